//! Which positions of a mesh are one place: files often repeat a position for each face or each UV.

use rayon::prelude::*;
use surface::Mesh;

/// For each position the lowest one that lies at exactly the same point.
pub(crate) fn places(mesh: &Mesh) -> Vec<u32> {
    // + 0.0 makes one zero of both.
    let bits = |at: u32| mesh.positions()[at as usize].to_array().map(|v| (v + 0.0).to_bits());
    let mut order: Vec<u32> = (0..mesh.positions().len() as u32).collect();
    order.par_sort_unstable_by_key(|&at| (bits(at), at));
    let mut places = vec![0; order.len()];
    for same in order.chunk_by(|&a, &b| bits(a) == bits(b)) {
        for &at in same {
            places[at as usize] = same[0];
        }
    }
    places
}
