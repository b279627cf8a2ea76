//! The door to the library: arguments in, exit status out.

fn main() {}
