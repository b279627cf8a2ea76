//! The engine.
