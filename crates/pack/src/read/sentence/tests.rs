//! The sentence grammar, production by production.
