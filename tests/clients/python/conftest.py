"""The server under test and the code generated from proto/.

The code is generated anew for every run, from the published files alone: nothing of the server is imported. The server is
the real binary (RUNGWISE_BIN) on a free port of this machine with a store in a temporary folder.
"""

import os
import pathlib
import re
import subprocess
import sys

import grpc
import grpc_tools.protoc
import pytest

TOP = pathlib.Path(__file__).resolve().parents[3]
START_S_MAX = 30


def pytest_configure():
    """Generates the code before any test module is imported."""
    out = TOP / "target" / "generated-python"
    out.mkdir(parents=True, exist_ok=True)
    files = sorted(str(path.relative_to(TOP / "proto")) for path in (TOP / "proto" / "rungwise" / "v1").glob("*.proto"))
    assert files, "no proto files"
    well_known = str(pathlib.Path(grpc_tools.__file__).parent / "_proto")
    status = grpc_tools.protoc.main(
        ["protoc", f"-I{TOP / 'proto'}", f"-I{well_known}", f"--python_out={out}", f"--grpc_python_out={out}", *files]
    )
    assert status == 0, f"protoc answered {status}"
    sys.path.insert(0, str(out))


@pytest.fixture(scope="session")
def address(tmp_path_factory):
    """Where a server of our own listens."""
    binary = os.environ.get("RUNGWISE_BIN")
    assert binary, "RUNGWISE_BIN is not set; run `tests/all build python`"
    store = tmp_path_factory.mktemp("store")
    server = subprocess.Popen(
        [binary, "serve", "--listen", "127.0.0.1:0", "--store", str(store / "ledger")],
        stdout=subprocess.PIPE,
        text=True,
    )
    try:
        listening = None
        for line in server.stdout:
            listening = re.search(r"listening on (\S+)", line)
            if listening:
                break
        assert listening, f"the server ended before it listened: {server.wait(timeout=START_S_MAX)}"
        yield listening.group(1)
    finally:
        server.terminate()
        assert server.wait(timeout=START_S_MAX) == 0, "the server did not stop cleanly"


@pytest.fixture(scope="session")
def channel(address):
    """A connection to that server."""
    with grpc.insecure_channel(address) as connected:
        grpc.channel_ready_future(connected).result(timeout=START_S_MAX)
        yield connected
