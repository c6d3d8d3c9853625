//! Light and surfaces, judged from outside: against published values, against laws (energy, reciprocity), and the
//! shaders against their twins.
//!
//! `adapter` evaluates a WGSL expression over many inputs on whatever graphics adapter there is; without one these
//! tests fail and say what to install.

#[cfg(test)]
mod adapter;
#[cfg(test)]
mod environments;
#[cfg(test)]
mod furnace;
#[cfg(test)]
mod harmonics;
#[cfg(test)]
mod reference;
#[cfg(test)]
mod shader_files;
#[cfg(test)]
mod shader_twins;
#[cfg(test)]
mod sphere;
#[cfg(test)]
mod table;
#[cfg(test)]
mod tone;
