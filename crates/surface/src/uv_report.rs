//! What is wrong with a layout, found and named: overlaps, missing UVs, islands outside of the square,
//! triangles without area in the layout, mirrored islands.
//!
//! Overlaps are found by texels whose centres lie strictly inside of two triangles, so that shared
//! edges never count. Where more than two islands lie over each other, each is paired with the one that
//! has the lowest triangle there, not with every other.

use std::collections::BTreeMap;
use std::fmt;

use glam::DVec2;
use raster::{Observer, TILE_EDGE, TextureSize};
use rayon::prelude::*;

use crate::ownership::{Cover, Outline};
use crate::{IslandId, MaterialSlot, PartId, Surface, SurfaceError, TriangleId};

/// UVs that leave the square by no more than this are inside: files round.
const OUTSIDE: f64 = 1e-5;
/// Islands of which this share of texels lies over each other, of both, are stacked on purpose.
const STACKED: f64 = 0.9;

/// Everything found, in a fixed order.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct UvReport {
    /// First missing UVs, then triangles without area, islands outside, overlaps, mirrored islands.
    pub findings: Vec<UvFinding>,
}

/// Where something was found.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct UvPlace {
    /// The part.
    pub part: PartId,
    /// Its name.
    pub part_name: String,
    /// The material.
    pub material: MaterialSlot,
    /// Its name.
    pub material_name: String,
}

/// One thing found. Its `Display` is a line for the person at the screen.
#[derive(Debug, Clone, PartialEq)]
pub enum UvFinding {
    /// Triangles without UVs: they can't be painted.
    Missing {
        /// Where.
        place: UvPlace,
        /// How many.
        triangles: usize,
    },
    /// Triangles that have an area on the surface but none in the layout: they can't be painted.
    NoArea {
        /// Where.
        place: UvPlace,
        /// How many.
        triangles: usize,
    },
    /// An island that reaches out of the 0..1 square: what lies outside can't be painted.
    Outside {
        /// Where.
        place: UvPlace,
        /// Which island.
        island: IslandId,
        /// Lowest U and V.
        low: DVec2,
        /// Highest U and V.
        high: DVec2,
    },
    /// Two islands, or one with itself, lie over each other: what is painted on one shows on both.
    Overlap {
        /// Where the first island is.
        place: UvPlace,
        /// Where the second is.
        other_place: UvPlace,
        /// The first island in order.
        island: IslandId,
        /// The other; the same for an island that lies over itself.
        other: IslandId,
        /// Texels whose centres both cover.
        texels: u64,
        /// True when both cover nearly the same texels: meant, most likely.
        stacked: bool,
    },
    /// An island that the texture shows mirrored: lettering reads backwards.
    Mirrored {
        /// Where.
        place: UvPlace,
        /// Which island.
        island: IslandId,
    },
}

impl fmt::Display for UvPlace {
    fn fmt(&self, formatter: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(formatter, "part {}, material {}", self.part_name, self.material_name)
    }
}

fn triangles_are(count: usize) -> String {
    if count == 1 { "1 triangle has".to_owned() } else { format!("{count} triangles have") }
}

impl fmt::Display for UvFinding {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Missing { place, triangles } => {
                write!(f, "{place}: {} no UVs", triangles_are(*triangles))
            }
            Self::NoArea { place, triangles } => {
                write!(f, "{place}: {} no area in the layout", triangles_are(*triangles))
            }
            Self::Outside { place, island, low, high } => write!(
                f,
                "{place}: island {} reaches out of the square, U {:.3} to {:.3}, V {:.3} to {:.3}",
                island.0, low.x, high.x, low.y, high.y
            ),
            Self::Overlap { place, other_place, island, other, texels, stacked } => {
                if island == other {
                    return write!(
                        f,
                        "{place}: island {} lies over itself on {texels} texels",
                        island.0
                    );
                }
                write!(f, "{place}: island {} ", island.0)?;
                f.write_str(if *stacked { "is stacked with" } else { "overlaps" })?;
                write!(f, " island {} ({other_place}) on {texels} texels", other.0)
            }
            Self::Mirrored { place, island } => {
                write!(f, "{place}: island {} is mirrored", island.0)
            }
        }
    }
}

impl UvReport {
    /// Looks at every material; overlaps are looked for at `size`.
    ///
    /// # Errors
    /// [`SurfaceError::Cancelled`] when the observer asks to stop.
    pub fn of(
        surface: &Surface,
        size: TextureSize,
        observer: &dyn Observer,
    ) -> Result<Self, SurfaceError> {
        let mut findings = unpaintable(surface);
        let islands = surface.islands().list();
        let ids = || (0..islands.len() as u32).map(IslandId);
        for island in ids() {
            let &crate::Island { low, high, .. } = surface.islands().get(island);
            if low.min_element() < -OUTSIDE || high.max_element() > 1.0 + OUTSIDE {
                let place = place_of(surface, island);
                findings.push(UvFinding::Outside { place, island, low, high });
            }
        }
        let materials = surface.mesh().material_names().len() as u32;
        for material in (0..materials).map(MaterialSlot) {
            observer.progress(u64::from(material.0), u64::from(materials));
            findings.extend(overlaps(surface, material, size, observer)?);
        }
        let mirrored = ids().filter(|&island| surface.islands().get(island).is_mirrored());
        findings.extend(
            mirrored.map(|island| UvFinding::Mirrored { place: place_of(surface, island), island }),
        );
        observer.progress(u64::from(materials), u64::from(materials));
        Ok(Self { findings })
    }

    /// True when nothing was found.
    pub fn is_clean(&self) -> bool {
        self.findings.is_empty()
    }
}

fn place(surface: &Surface, part: PartId, material: MaterialSlot) -> UvPlace {
    UvPlace {
        part,
        part_name: surface.mesh().parts()[part.0 as usize].name.clone(),
        material,
        material_name: surface.mesh().material_names()[material.0 as usize].clone(),
    }
}

fn place_of(surface: &Surface, island: IslandId) -> UvPlace {
    let island = surface.islands().get(island);
    place(surface, island.part, island.material)
}

/// Missing UVs, then triangles without area in the layout, by part and material.
fn unpaintable(surface: &Surface) -> Vec<UvFinding> {
    let mut missing: BTreeMap<(PartId, MaterialSlot), usize> = BTreeMap::new();
    let mut no_area = missing.clone();
    for id in (0..surface.triangle_count() as u32).map(TriangleId) {
        let key = (surface.part_of(id), surface.material_of(id));
        match surface.uvs_of(id) {
            None => *missing.entry(key).or_default() += 1,
            Some([a, b, c]) => {
                let empty = (b - a).perp_dot(c - a) == 0.0;
                if empty && surface.geometric_normal(id) != glam::DVec3::ZERO {
                    *no_area.entry(key).or_default() += 1;
                }
            }
        }
    }
    let place = |(part, material)| place(surface, part, material);
    let missing = missing
        .into_iter()
        .map(|(key, triangles)| UvFinding::Missing { place: place(key), triangles });
    let no_area = no_area
        .into_iter()
        .map(|(key, triangles)| UvFinding::NoArea { place: place(key), triangles });
    missing.chain(no_area).collect()
}

/// Texels of islands and of pairs of islands.
#[derive(Default)]
struct Tally {
    covered: BTreeMap<u32, u64>,
    twice: BTreeMap<(u32, u32), u64>,
}

impl Tally {
    fn add(mut self, more: Self) -> Self {
        for (island, texels) in more.covered {
            *self.covered.entry(island).or_default() += texels;
        }
        for (pair, texels) in more.twice {
            *self.twice.entry(pair).or_default() += texels;
        }
        self
    }
}

fn overlaps(
    surface: &Surface,
    material: MaterialSlot,
    size: TextureSize,
    observer: &dyn Observer,
) -> Result<Vec<UvFinding>, SurfaceError> {
    let edge = TILE_EDGE as u32;
    let mut bands: Vec<Vec<TriangleId>> = vec![Vec::new(); (size.edge() / edge) as usize];
    for id in (0..surface.triangle_count() as u32).map(TriangleId) {
        if surface.material_of(id) != material {
            continue;
        }
        let outline = surface.uvs_of(id).and_then(|uvs| Outline::new(uvs, size));
        let Some((from, to)) = outline.map(|outline| outline.rows(size)) else { continue };
        for band in from / edge..to.div_ceil(edge).max(from / edge) {
            bands[band as usize].push(id);
        }
    }
    let tallies = bands.par_iter().enumerate().map(|(band, triangles)| {
        observer.check()?;
        Ok(tally(surface, size, band as u32 * edge, triangles))
    });
    let tallies = tallies.collect::<Result<Vec<_>, SurfaceError>>()?;
    let tally = tallies.into_iter().fold(Tally::default(), Tally::add);
    let covered = |island: u32| tally.covered.get(&island).copied().unwrap_or(0);
    let finding = |(&(first, second), &texels): (&(u32, u32), &u64)| UvFinding::Overlap {
        place: place_of(surface, IslandId(first)),
        other_place: place_of(surface, IslandId(second)),
        island: IslandId(first),
        other: IslandId(second),
        texels,
        stacked: first != second
            && texels as f64 >= STACKED * covered(first).max(covered(second)) as f64,
    };
    Ok(tally.twice.iter().map(finding).collect())
}

/// The texels of 64 rows from `top`. `triangles` in ascending order.
fn tally(surface: &Surface, size: TextureSize, top: u32, triangles: &[TriangleId]) -> Tally {
    const NONE: u32 = u32::MAX;
    let rows = (top, top + TILE_EDGE as u32);
    let mut first = vec![NONE; size.edge() as usize * TILE_EDGE];
    let mut tally = Tally::default();
    for &id in triangles {
        let outline = surface.uvs_of(id).and_then(|uvs| Outline::new(uvs, size));
        let (Some(outline), Some(IslandId(island))) = (outline, surface.islands().island_of(id))
        else {
            continue;
        };
        let mut inside = 0;
        outline.for_each_texel(rows, size, |x, y, cover| {
            if cover == Cover::Inside {
                inside += 1;
                let earlier = &mut first[(y - top) as usize * size.edge() as usize + x as usize];
                if *earlier == NONE {
                    *earlier = island;
                } else {
                    let pair = (island.min(*earlier), island.max(*earlier));
                    *tally.twice.entry(pair).or_default() += 1;
                }
            }
        });
        if inside > 0 {
            *tally.covered.entry(island).or_default() += inside;
        }
    }
    tally
}

#[cfg(test)]
mod tests {
    use glam::DVec3;
    use raster::Unobserved;

    use super::*;
    use crate::Mesh;
    use crate::testing::{Builder, cube, cylinder, plane_of_islands, prepared, turned};

    fn report(mesh: Mesh) -> Vec<UvFinding> {
        let size = TextureSize::new(256).unwrap();
        UvReport::of(&prepared(mesh), size, &Unobserved).unwrap().findings
    }

    fn lines(findings: &[UvFinding]) -> Vec<String> {
        findings.iter().map(ToString::to_string).collect()
    }

    /// Squares on the surface, one beside the other, each laid out in its own way: one island each.
    fn squares(layouts: &[&dyn Fn(DVec2) -> DVec2]) -> Builder {
        let mut builder = Builder::default();
        for (k, layout) in layouts.iter().enumerate() {
            let place = |st: DVec2| DVec3::new(k as f64 * 2.0 + st.x, st.y, 0.0);
            builder.patch((4, 4), place, layout, 0);
        }
        builder
    }

    #[test]
    fn a_layout_whose_islands_only_touch_is_clean() {
        let left = turned(DVec2::new(0.25, 0.5), DVec2::new(0.5, 1.0), 0.0);
        let right = turned(DVec2::new(0.75, 0.5), DVec2::new(0.5, 1.0), 0.0);
        assert_eq!(report(squares(&[&left, &right]).mesh()), []);
        assert_eq!(report(cylinder(16, 4)), []);
        assert_eq!(report(plane_of_islands(8, &[0.1, 0.7, 2.0, 4.0])), []);
    }

    #[test]
    fn islands_stacked_on_purpose_are_told_from_islands_that_overlap() {
        let centre = DVec2::splat(0.5);
        let first = turned(centre, DVec2::splat(0.5), 0.0);
        let stacked = turned(centre + 0.001, DVec2::splat(0.5), 0.0);
        let shifted = turned(centre + 0.25, DVec2::splat(0.25), 0.0);
        let found = report(squares(&[&first, &stacked]).mesh());
        let [UvFinding::Overlap { island, other, texels, stacked: true, .. }] = found[..] else {
            panic!("{found:?}")
        };
        assert_eq!((island.0, other.0), (0, 1));
        // 128 x 128, without the centres on the diagonals of the first one's quads.
        assert_eq!(texels, 128 * 128 - 4 * 128);
        let found = report(squares(&[&first, &shifted]).mesh());
        let [UvFinding::Overlap { texels, stacked: false, .. }] = found[..] else {
            panic!("{found:?}")
        };
        // A quarter of the smaller square, 32 x 32, without the centres on diagonals.
        assert_eq!(texels, 32 * 32 - 2 * 32);
        let line = "part bell, material bronze: island 0 overlaps island 1 \
                    (part bell, material bronze) on 960 texels";
        assert_eq!(lines(&found), [line]);
    }

    #[test]
    fn an_island_that_folds_over_itself_is_found() {
        let fold = |st: DVec2| DVec2::new(0.2 + (0.6 * st.x - 0.3).abs(), 0.8 - 0.5 * st.y);
        let found = report(squares(&[&fold]).mesh());
        assert!(
            matches!(found[0], UvFinding::Overlap { island: IslandId(0), other: IslandId(0), stacked: false, texels, .. } if texels > 5000),
            "{found:?}"
        );
    }

    #[test]
    fn missing_uvs_are_counted_by_part_and_material() {
        assert_eq!(
            lines(&report(cube())),
            ["part bell, material bronze: 12 triangles have no UVs"]
        );
    }

    #[test]
    fn islands_outside_of_the_square_are_named_and_rounding_is_not() {
        let full = turned(DVec2::splat(0.5), DVec2::splat(1.000_01), 0.0);
        assert_eq!(report(squares(&[&full]).mesh()), []);
        let out = turned(DVec2::new(1.25, 0.5), DVec2::splat(0.5), 0.0);
        let line = "part bell, material bronze: island 0 reaches out of the square, \
                    U 1.000 to 1.500, V 0.250 to 0.750";
        assert_eq!(lines(&report(squares(&[&out]).mesh())), [line]);
    }

    #[test]
    fn triangles_without_area_in_the_layout_are_counted() {
        let flat = |st: DVec2| DVec2::new(0.3 + 0.25 * st.x, 0.5);
        let found = report(squares(&[&flat]).mesh());
        let line = "part bell, material bronze: 32 triangles have no area in the layout";
        assert_eq!(lines(&found), [line]);
    }

    #[test]
    fn mirrored_islands_are_named() {
        let plain = turned(DVec2::new(0.25, 0.5), DVec2::splat(0.3), 1.0);
        let mirrored = turned(DVec2::new(0.75, 0.5), DVec2::new(-0.3, 0.3), 1.0);
        let found = report(squares(&[&plain, &mirrored]).mesh());
        assert_eq!(lines(&found), ["part bell, material bronze: island 1 is mirrored"]);
    }
}
