"""The README's Python example is run as it stands, against the server under test."""

import re

from conftest import TOP


def test_the_example_of_the_readme_runs(address, capsys):
    """It prints the outcome and at least one question."""
    readme = (TOP / "README.md").read_text(encoding="utf-8")
    blocks = re.findall(r"^```python\n(.*?)^```", readme, re.MULTILINE | re.DOTALL)
    assert len(blocks) == 1
    example = blocks[0].replace("127.0.0.1:7864", address)
    assert example != blocks[0], "the example names no server"
    exec(compile(example, "README.md", "exec"), {})  # noqa: S102 - the README is ours
    printed = capsys.readouterr().out.splitlines()
    assert len(printed) > 1, printed
