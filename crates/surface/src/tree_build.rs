//! Makes the tree of boxes, from the top down.
//!
//! The library's own builder takes quadratic time where boxes are nested or equal (a cap of very many
//! corners, copies over each other). Here each node is split where the surface area heuristic, binned
//! along its widest axis, finds it cheapest (Wald, "On fast construction of SAH-based bounding volume
//! hierarchies", 2007); nodes that lie deep are halved. So the depth is bounded and the time
//! n log n, whatever comes.

use std::ops::Range;

use obvhs::aabb::Aabb;
use obvhs::bvh2::Bvh2;
use obvhs::bvh2::node::Bvh2Node;

/// Triangles in a leaf, at most.
const LEAF: usize = 4;
const BINS: usize = 16;
/// From this depth on nodes are halved: 2^32 triangles then end before `DEEPEST`.
const HALVED_FROM: usize = 56;
/// The library's stack for traversal without allocation.
pub(crate) const DEEPEST: usize = 96;

/// The tree over these boxes.
pub(crate) fn build(boxes: &[Aabb]) -> Bvh2 {
    build_halving_from(HALVED_FROM, boxes)
}

fn build_halving_from(halved_from: usize, boxes: &[Aabb]) -> Bvh2 {
    let mut order: Vec<u32> = (0..boxes.len() as u32).collect();
    let mut nodes = vec![Bvh2Node::default()];
    let mut open = vec![(0, 0..boxes.len(), 0)];
    while let Some((node, range, depth)) = open.pop() {
        let inside = &mut order[range.clone()];
        let bounds = inside.iter().fold(Aabb::empty(), |all, &id| all.union(&boxes[id as usize]));
        if inside.len() <= LEAF {
            nodes[node] = Bvh2Node::new(bounds, inside.len() as u32, range.start as u32);
            continue;
        }
        let middle = range.start + split(boxes, inside, depth >= halved_from);
        let first = nodes.len();
        nodes[node] = Bvh2Node::new(bounds, 0, first as u32);
        nodes.extend([Bvh2Node::default(); 2]);
        let children: [Range<usize>; 2] = [range.start..middle, middle..range.end];
        for (k, child) in children.into_iter().enumerate() {
            open.push((first + k, child, depth + 1));
        }
    }
    Bvh2 { nodes, primitive_indices: order, max_depth: DEEPEST, ..Bvh2::default() }
}

/// Puts the triangles of a node in two rows, and says how many the first has: neither is empty.
fn split(boxes: &[Aabb], inside: &mut [u32], halve: bool) -> usize {
    let centre = |id: u32| boxes[id as usize].center();
    let centres =
        inside.iter().fold(Aabb::empty(), |all, &id| all.union(&Aabb::from_point(centre(id))));
    let axis = centres.largest_axis();
    let (low, extent) = (centres.min[axis], centres.diagonal()[axis]);
    let along = |id: u32| centre(id)[axis];
    if !halve && extent > 0.0 {
        let bin = |id: u32| (((along(id) - low) / extent * BINS as f32) as usize).min(BINS - 1);
        if let Some(border) = cheapest_border(boxes, inside, bin) {
            return partition(inside, |id| bin(id) < border);
        }
    }
    let middle = inside.len() / 2;
    inside.select_nth_unstable_by(middle, |&a, &b| along(a).total_cmp(&along(b)).then(a.cmp(&b)));
    middle
}

/// The bin before which to split, by area times number on either side; `None` where all are in one.
fn cheapest_border(boxes: &[Aabb], inside: &[u32], bin: impl Fn(u32) -> usize) -> Option<usize> {
    let mut bins = [(Aabb::empty(), 0usize); BINS];
    for &id in inside {
        let (bounds, count) = &mut bins[bin(id)];
        *bounds = bounds.union(&boxes[id as usize]);
        *count += 1;
    }
    let join = |a: (Aabb, usize), b: &(Aabb, usize)| (a.0.union(&b.0), a.1 + b.1);
    let cost = |(bounds, count): (Aabb, usize)| bounds.half_area() * count as f32;
    let mut right = [(Aabb::empty(), 0); BINS + 1];
    for k in (0..BINS).rev() {
        right[k] = join(right[k + 1], &bins[k]);
    }
    let mut left = (Aabb::empty(), 0);
    let mut best: Option<(f32, usize)> = None;
    for border in 1..BINS {
        left = join(left, &bins[border - 1]);
        if left.1 > 0 && right[border].1 > 0 {
            let both = cost(left) + cost(right[border]);
            if best.is_none_or(|(least, _)| both < least) {
                best = Some((both, border));
            }
        }
    }
    best.map(|(_, border)| border)
}

/// Those for which `first` holds to the front; how many there are.
fn partition(inside: &mut [u32], first: impl Fn(u32) -> bool) -> usize {
    let mut count = 0;
    for index in 0..inside.len() {
        if first(inside[index]) {
            inside.swap(index, count);
            count += 1;
        }
    }
    count
}

#[cfg(test)]
mod tests {
    use glam::Vec3A;

    use super::*;

    fn depth(tree: &Bvh2) -> usize {
        let mut deepest = 0;
        let mut open = vec![(0, 1)];
        while let Some((index, depth)) = open.pop() {
            deepest = deepest.max(depth);
            let node = &tree.nodes[index];
            if !node.is_leaf() {
                let first = node.first_index as usize;
                open.extend([(first, depth + 1), (first + 1, depth + 1)]);
            }
        }
        deepest
    }

    fn boxes(count: u32, place: impl Fn(f32) -> f32) -> Vec<Aabb> {
        let of = |k: u32| {
            let at = place(k as f32 / count as f32);
            Aabb::new(Vec3A::splat(-at), Vec3A::new(at, at, at * 3.0))
        };
        (0..count).map(of).collect()
    }

    #[test]
    fn every_triangle_is_in_one_leaf_and_every_box_in_its_parents() {
        let boxes = boxes(1000, |share| share * 17.0 % 1.0);
        let tree = build(&boxes);
        let mut seen = vec![0; 1000];
        for node in &tree.nodes {
            let first = node.first_index as usize;
            if node.is_leaf() {
                for &id in &tree.primitive_indices[first..first + node.prim_count as usize] {
                    seen[id as usize] += 1;
                    assert_eq!(node.aabb().union(&boxes[id as usize]), *node.aabb());
                }
            } else {
                for child in &tree.nodes[first..first + 2] {
                    assert_eq!(node.aabb().union(child.aabb()), *node.aabb());
                }
            }
        }
        assert!(seen.iter().all(|&count| count == 1));
    }

    #[test]
    fn nested_equal_and_crowded_boxes_give_a_tree_of_bounded_depth() {
        // Ever larger boxes in a row: cutting off the largest is cheapest each time.
        let grown = (0..100_000u32).map(|k| {
            let share = k as f32 / 100_000.0;
            let size = (share * 100.0 - 97.0).exp2();
            Aabb::new(Vec3A::new(share - size, -size, -size), Vec3A::new(share + size, size, size))
        });
        let cases = [boxes(100_000, |share| share), boxes(100_000, |_| 1.0), grown.collect()];
        for boxes in cases {
            let tree = build(&boxes);
            assert!(depth(&tree) < 40, "{}", depth(&tree));
            assert!(tree.nodes.len() <= boxes.len() * 2);
        }
    }

    #[test]
    fn where_nodes_are_halved_the_depth_is_the_logarithm_of_their_number() {
        let boxes = boxes(1 << 12, |share| (share * 60.0 - 60.0).exp2());
        // 4 = 2^2 to a leaf: ten levels above the leaves.
        assert_eq!(depth(&build_halving_from(0, &boxes)), 11);
        assert!(depth(&build(&boxes)) > 11);
    }
}
