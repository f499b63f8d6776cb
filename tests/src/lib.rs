//! What the tests share: the reference evaluator and the generators.
