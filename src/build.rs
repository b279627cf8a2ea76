//! Lists the shipped library at build time, so that the program carries it wherever it goes.

fn main() {
    println!("cargo::rerun-if-changed=knowledge");
}
