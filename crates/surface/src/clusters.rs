//! Clusters: neighbouring triangles, at most 64, each connected in itself over shared edges.
//!
//! A flood inside of a ball takes a cluster that lies in the ball as one: all of its triangles touch
//! the ball and one leads to all. Single triangles are looked at only in clusters at the ball's rim.

use std::collections::VecDeque;
use std::sync::Arc;

use glam::DVec3;

use crate::nearest::touches;
use crate::{Surface, TriangleId};

/// Triangles in a cluster, at most: the bits of a `u64`.
const MOST: usize = 64;
/// So many triangles across one edge are looked at to make clusters: enough where two meet, and all of a
/// crowd still hang together, as each has others first.
const LOOKED_AT: usize = 8;
const NONE: u32 = u32::MAX;

/// See the module.
#[derive(Debug, Default)]
pub(crate) struct Clusters {
    /// By triangle: its cluster, and its number there.
    of: Vec<u32>,
    number: Vec<u8>,
    /// The triangles of each cluster, those with neighbours in other clusters first.
    members: Vec<TriangleId>,
    list: Vec<Cluster>,
}

#[derive(Debug)]
struct Cluster {
    /// Its first in `members`.
    first: u32,
    count: u8,
    /// How many of its triangles have neighbours in other clusters.
    border: u8,
    /// A ball that holds all its triangles, a little generous.
    centre: DVec3,
    radius: f64,
}

impl Cluster {
    fn all(&self) -> u64 {
        u64::MAX >> (MOST - self.count as usize)
    }
}

impl Clusters {
    pub(crate) fn new(surface: &Surface) -> Self {
        let count = surface.triangle_count();
        let mut clusters = Self {
            of: vec![NONE; count],
            number: vec![0; count],
            members: Vec::with_capacity(count),
            list: Vec::with_capacity(count / MOST * 2),
        };
        // Clusters begin beside others, so that few remnants are left between them.
        let mut beside = VecDeque::new();
        for id in (0..count as u32).map(TriangleId) {
            beside.push_back(id);
            while let Some(start) = beside.pop_front() {
                if clusters.of[start.0 as usize] == NONE {
                    clusters.grow(surface, start, &mut beside);
                }
            }
        }
        for index in 0..clusters.list.len() {
            clusters.finish(surface, index);
        }
        clusters
    }

    /// A cluster of the triangles nearest to `start` by steps over edges. What it touches is put into `beside`.
    fn grow(&mut self, surface: &Surface, start: TriangleId, beside: &mut VecDeque<TriangleId>) {
        let (cluster, first) = (self.list.len() as u32, self.members.len());
        self.of[start.0 as usize] = cluster;
        self.members.push(start);
        let mut next = first;
        while next < self.members.len() {
            let id = self.members[next];
            next += 1;
            for edge in 0..3 {
                for &other in surface.neighbours(id, edge).iter().take(LOOKED_AT) {
                    if self.of[other.0 as usize] != NONE {
                        continue;
                    }
                    if self.members.len() - first < MOST {
                        self.of[other.0 as usize] = cluster;
                        self.members.push(other);
                    } else {
                        beside.push_back(other);
                    }
                }
            }
        }
        let count = (self.members.len() - first) as u8;
        let (centre, radius) = (DVec3::ZERO, 0.0);
        self.list.push(Cluster { first: first as u32, count, border: 0, centre, radius });
    }

    /// Its border first, numbers, the ball.
    fn finish(&mut self, surface: &Surface, index: usize) {
        let Self { of, number, members, list } = self;
        let cluster = &mut list[index];
        let first = cluster.first as usize;
        let members = &mut members[first..first + cluster.count as usize];
        let leads_out = |id: &TriangleId| {
            let others = (0..3).flat_map(|edge| surface.neighbours(*id, edge));
            others.into_iter().any(|other| of[other.0 as usize] != index as u32)
        };
        let mut border = 0;
        for k in 0..members.len() {
            if leads_out(&members[k]) {
                members.swap(border, k);
                border += 1;
            }
        }
        cluster.border = border as u8;
        let (mut low, mut high) = (DVec3::INFINITY, DVec3::NEG_INFINITY);
        for (k, id) in members.iter().enumerate() {
            number[id.0 as usize] = k as u8;
            for corner in surface.positions_of(*id) {
                (low, high) = (low.min(corner), high.max(corner));
            }
        }
        cluster.centre = (low + high) / 2.0;
        let corners = members.iter().flat_map(|id| surface.positions_of(*id));
        let farthest = corners.map(|at| at.distance_squared(cluster.centre)).fold(0.0, f64::max);
        cluster.radius = farthest.sqrt() * (1.0 + 1e-9) + 1e-12 * surface.tree().half_extent();
    }

    fn members(&self, cluster: &Cluster) -> &[TriangleId] {
        &self.members[cluster.first as usize..][..cluster.count as usize]
    }

    /// Bytes of memory that this takes.
    pub(crate) fn bytes(&self) -> usize {
        size_of_val(&*self.of)
            + size_of_val(&*self.number)
            + size_of_val(&*self.members)
            + size_of_val(&*self.list)
    }
}

/// The triangles that a flood has reached. Kept and filled again, it allocates no more.
#[derive(Debug)]
pub struct Connected {
    clusters: Arc<Clusters>,
    /// For each cluster the flood that last came to it, then what it found there.
    stamps: Vec<u32>,
    places: Vec<Place>,
    reached: Vec<u64>,
    flood: u32,
    /// The clusters that this flood came to.
    seen: Vec<u32>,
    open_clusters: Vec<u32>,
    open_triangles: Vec<TriangleId>,
}

/// How a cluster lies to the ball.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Place {
    Inside,
    Rim,
    Outside,
}

impl Connected {
    /// Whether the flood has reached the triangle.
    #[inline]
    pub fn contains(&self, triangle: TriangleId) -> bool {
        let cluster = self.clusters.of[triangle.0 as usize] as usize;
        self.stamps[cluster] == self.flood
            && self.reached[cluster] >> self.clusters.number[triangle.0 as usize] & 1 == 1
    }

    /// All triangles that the flood has reached, each once, in no order.
    pub fn triangles(&self) -> impl Iterator<Item = TriangleId> {
        self.seen.iter().flat_map(|&index| {
            let members = self.clusters.members(&self.clusters.list[index as usize]);
            let reached = self.reached[index as usize];
            let kept = members.iter().enumerate().filter(move |(k, _)| reached >> k & 1 == 1);
            kept.map(|(_, &triangle)| triangle)
        })
    }

    fn begin(&mut self) {
        if self.flood == u32::MAX {
            self.stamps.fill(0);
            self.flood = 0;
        }
        self.flood += 1;
        self.seen.clear();
    }
}

impl Surface {
    /// For floods over this surface: nothing reached yet.
    pub fn connected(&self) -> Connected {
        let clusters = Arc::clone(self.clusters());
        let count = clusters.list.len();
        Connected {
            clusters,
            stamps: vec![0; count],
            places: vec![Place::Outside; count],
            reached: vec![0; count],
            flood: 1,
            seen: Vec::new(),
            open_clusters: Vec::new(),
            open_triangles: Vec::new(),
        }
    }

    /// Finds the triangles that can be reached from `seeds` over shared edges through triangles that all
    /// touch the ball. Seeds that do not touch it lead nowhere. `connected` must be of this surface; what
    /// it held is forgotten.
    pub fn connect_in_ball(
        &self,
        seeds: &[TriangleId],
        centre: DVec3,
        radius: f64,
        connected: &mut Connected,
    ) {
        connected.begin();
        if radius < 0.0 {
            return;
        }
        let clusters = Arc::clone(&connected.clusters);
        let mut flood = Flood { surface: self, clusters: &clusters, centre, radius, connected };
        for &seed in seeds {
            flood.enter(seed);
        }
        flood.run();
    }
}

struct Flood<'a> {
    surface: &'a Surface,
    clusters: &'a Clusters,
    centre: DVec3,
    radius: f64,
    connected: &'a mut Connected,
}

impl Flood<'_> {
    fn run(&mut self) {
        loop {
            if let Some(index) = self.connected.open_clusters.pop() {
                let cluster = &self.clusters.list[index as usize];
                for &id in &self.clusters.members(cluster)[..cluster.border as usize] {
                    self.leave(id);
                }
            } else if let Some(id) = self.connected.open_triangles.pop() {
                self.leave(id);
            } else {
                break;
            }
        }
    }

    fn leave(&mut self, id: TriangleId) {
        for edge in 0..3 {
            for &other in self.surface.neighbours(id, edge) {
                self.enter(other);
            }
        }
    }

    fn enter(&mut self, id: TriangleId) {
        let index = self.clusters.of[id.0 as usize] as usize;
        if self.connected.stamps[index] != self.connected.flood {
            self.come_to(index);
        }
        let bit = 1 << self.clusters.number[id.0 as usize];
        let reached = &mut self.connected.reached[index];
        match self.connected.places[index] {
            Place::Outside => {}
            Place::Inside => {
                if *reached == 0 {
                    *reached = self.clusters.list[index].all();
                    self.connected.open_clusters.push(index as u32);
                }
            }
            Place::Rim => {
                let corners = self.surface.positions_of(id);
                if *reached & bit == 0 && touches(corners, self.centre, self.radius) {
                    *reached |= bit;
                    self.connected.open_triangles.push(id);
                }
            }
        }
    }

    fn come_to(&mut self, index: usize) {
        let cluster = &self.clusters.list[index];
        let distance = cluster.centre.distance(self.centre);
        let connected = &mut *self.connected;
        connected.stamps[index] = connected.flood;
        connected.seen.push(index as u32);
        connected.reached[index] = 0;
        // A hair's breadth is left to rounding; there triangles are looked at.
        connected.places[index] = if (distance + cluster.radius) * (1.0 + 1e-9) < self.radius {
            Place::Inside
        } else if distance > (self.radius + cluster.radius) * (1.0 + 1e-9) {
            Place::Outside
        } else {
            Place::Rim
        };
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::testing::{cube, cylinder, prepared, six_sided_sphere, soup, sphere, two_sheets};

    /// The definition: over single triangles.
    fn plain_flood(
        surface: &Surface,
        seeds: &[TriangleId],
        centre: DVec3,
        radius: f64,
    ) -> Vec<TriangleId> {
        let mut found = Vec::new();
        surface.triangles_in_ball(centre, radius, &mut found);
        let mut reached = vec![false; found.len()];
        let mut open = seeds.to_vec();
        while let Some(triangle) = open.pop() {
            let Ok(index) = found.binary_search(&triangle) else { continue };
            if !reached[index] {
                reached[index] = true;
                open.extend((0..3).flat_map(|edge| surface.neighbours(triangle, edge)));
            }
        }
        found.into_iter().zip(reached).filter(|(_, reached)| *reached).map(|(id, _)| id).collect()
    }

    /// Strips and crosses of triangles in no order, and some alone.
    fn scraps() -> crate::Mesh {
        let spot = |k: u32| {
            let k = k % 300;
            let spread = |step: f32| (k as f32 * step).fract();
            [spread(0.819_17), spread(0.671_04), spread(0.549_7)]
        };
        let triangles = (0..900).map(|k| ([spot(k * 7), spot(k * 11 + k / 3), spot(k + 5)], k % 2));
        soup(&triangles.collect::<Vec<_>>())
    }

    fn surfaces() -> Vec<Surface> {
        let meshes = [
            sphere(60, 30),
            cylinder(100, 30),
            six_sided_sphere(30),
            two_sheets(40, 0.02),
            cube(),
            scraps(),
        ];
        meshes.into_iter().map(prepared).collect()
    }

    #[test]
    fn clusters_hold_every_triangle_once_and_each_hangs_together() {
        for surface in surfaces() {
            let clusters = surface.clusters();
            let mut all = clusters.members.clone();
            all.sort_unstable();
            assert!(all.iter().map(|id| id.0).eq(0..surface.triangle_count() as u32));
            for (index, cluster) in clusters.list.iter().enumerate() {
                let members = clusters.members(cluster);
                assert!(members.len() <= MOST);
                let mut reached = vec![members[0]];
                let mut next = 0;
                while next < reached.len() {
                    let id = reached[next];
                    for other in (0..3).flat_map(|edge| surface.neighbours(id, edge)) {
                        if members.contains(other) && !reached.contains(other) {
                            reached.push(*other);
                        }
                    }
                    next += 1;
                }
                assert_eq!(reached.len(), members.len(), "cluster {index}");
                for corner in members.iter().flat_map(|&id| surface.positions_of(id)) {
                    assert!(corner.distance(cluster.centre) <= cluster.radius);
                }
            }
        }
    }

    #[test]
    fn most_clusters_of_a_smooth_surface_are_full_and_round() {
        let surface = prepared(six_sided_sphere(60));
        let clusters = surface.clusters();
        let mean = surface.triangle_count() / clusters.list.len();
        assert!(mean > 40, "{mean}");
        // 64 of 43,200 triangles of a sphere are a disc of radius 0.077.
        let radii: f64 = clusters.list.iter().map(|cluster| cluster.radius).sum();
        let mean = radii / clusters.list.len() as f64;
        assert!(mean < 0.12, "{mean}");
    }

    #[test]
    fn the_flood_over_clusters_reaches_what_a_flood_over_triangles_does() {
        let (mut whole, mut compared) = (0, 0);
        for surface in surfaces() {
            let mut connected = surface.connected();
            let count = surface.triangle_count() as u32;
            assert!((0..count).all(|id| !connected.contains(TriangleId(id))));
            for k in 0..300 {
                let seeds = [TriangleId(k * 37 % count), TriangleId(k * 101 % count)];
                let seeds = &seeds[..=(k as usize % 2)];
                let near = surface.position(seeds[0], [0.2, 0.3, 0.5]);
                let spread = |step: f64| (f64::from(k) * step).fract() - 0.5;
                let aside = DVec3::new(spread(0.819), spread(0.671), spread(0.549));
                let radius = 0.01 * 200f64.powf(spread(0.38) + 0.5);
                let centre = near + aside * radius;
                surface.connect_in_ball(seeds, centre, radius, &mut connected);
                let mut found: Vec<_> = connected.triangles().collect();
                found.sort_unstable();
                let expected = plain_flood(&surface, seeds, centre, radius);
                assert_eq!(found, expected, "{seeds:?} {centre} {radius}");
                let mut expected = expected.into_iter().peekable();
                for id in (0..count).map(TriangleId) {
                    let reached = expected.next_if_eq(&id).is_some();
                    assert_eq!(connected.contains(id), reached);
                }
                whole += connected.places.iter().filter(|place| **place == Place::Inside).count();
                compared += found.len();
            }
        }
        assert!(whole > 1000 && compared > 10_000, "{whole} {compared}");
    }

    #[test]
    fn the_flood_stays_on_the_sheet_that_it_begins_on() {
        let surface = prepared(two_sheets(8, 0.1));
        let centre = DVec3::new(0.5, 0.0, 0.5);
        let seed = surface.nearest(centre).unwrap().triangle;
        let mut connected = surface.connected();
        let mut all = Vec::new();
        surface.triangles_in_ball(centre, 0.3, &mut all);
        surface.connect_in_ball(&[seed], centre, 0.3, &mut connected);
        let height = |id: TriangleId| surface.positions_of(id)[0].y;
        assert!(all.iter().any(|id| height(*id) < -0.05));
        assert!(all.iter().all(|id| connected.contains(*id) == (height(*id) == 0.0)));
        for (elsewhere, radius) in [(DVec3::splat(9.0), 0.3), (centre, -1.0), (DVec3::NAN, 0.3)] {
            surface.connect_in_ball(&[seed], elsewhere, radius, &mut connected);
            assert_eq!(connected.triangles().count(), 0);
            assert!(!connected.contains(seed));
        }
    }

    #[test]
    fn flooding_again_allocates_nothing() {
        let surface = prepared(six_sided_sphere(30));
        let mut connected = surface.connected();
        let mut flood = || {
            surface.connect_in_ball(&[TriangleId(0)], DVec3::X, 1.5, &mut connected);
            let Connected { seen, open_clusters, open_triangles, .. } = &connected;
            (seen.as_ptr(), open_clusters.as_ptr(), open_triangles.as_ptr())
        };
        assert_eq!(flood(), flood());
    }
}
