//! Planes as trees: a plane names pages of 8 x 8 tiles, a page names tiles.

use raster::{Extent, TileAt};

use super::Node;
use crate::Hash;
use crate::hash::Kind;
use crate::written::{Input, Malformed, Written, write_length};

/// Tiles along a page's edge.
pub(crate) const PAGE_EDGE: u32 = 8;
/// The longest edge of a plane, in texels: far beyond any texture, and still no absurd amount of memory.
pub(crate) const MOST_EDGE: u32 = 1 << 16;

/// A tile in a page.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum TileRef {
    Uniform(u16),
    Stored(Hash),
}

/// A page in a plane.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum PageRef {
    /// All its tiles are uniform, of one value.
    Uniform(u16),
    Stored(Hash),
}

/// The tiles of a page, row by row; those beyond the plane's edge are left out.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct PageNode {
    pub(crate) tiles: Vec<TileRef>,
}

/// A plane: its pages, row by row.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct PlaneNode {
    pub(crate) extent: Extent,
    pub(crate) pages: Vec<PageRef>,
}

/// How many pages stand beside each other and above each other.
pub(crate) const fn pages_across(extent: Extent) -> (u32, u32) {
    let (across, down) = extent.tiles();
    (across.div_ceil(PAGE_EDGE), down.div_ceil(PAGE_EDGE))
}

/// The tiles of a page, in the order in which it names them.
pub(crate) fn page_places(extent: Extent, page: usize) -> impl Iterator<Item = TileAt> + Clone {
    let (across, down) = extent.tiles();
    let pages = pages_across(extent).0.max(1);
    let (left, top) = (page as u32 % pages * PAGE_EDGE, page as u32 / pages * PAGE_EDGE);
    let (right, bottom) = ((left + PAGE_EDGE).min(across), (top + PAGE_EDGE).min(down));
    (top..bottom).flat_map(move |y| (left..right).map(move |x| TileAt { x, y }))
}

/// Uniform and stored alike: a flag, then the value or the hash.
macro_rules! reference {
    ($name:ident) => {
        impl Written for $name {
            fn write(&self, out: &mut Vec<u8>) {
                match self {
                    Self::Uniform(value) => (0_u8, *value).write(out),
                    Self::Stored(hash) => (1_u8, *hash).write(out),
                }
            }

            fn read(input: &mut Input<'_>) -> Result<Self, Malformed> {
                match u8::read(input)? {
                    0 => Ok(Self::Uniform(Written::read(input)?)),
                    1 => Ok(Self::Stored(Written::read(input)?)),
                    _ => Err(Malformed::Content),
                }
            }
        }
    };
}

reference!(TileRef);
reference!(PageRef);

impl Written for PageNode {
    fn write(&self, out: &mut Vec<u8>) {
        self.tiles.write(out);
    }

    fn read(input: &mut Input<'_>) -> Result<Self, Malformed> {
        let tiles: Vec<TileRef> = Written::read(input)?;
        let fits = (1..=(PAGE_EDGE * PAGE_EDGE) as usize).contains(&tiles.len());
        if fits { Ok(Self { tiles }) } else { Err(Malformed::Content) }
    }
}

impl Written for PlaneNode {
    fn write(&self, out: &mut Vec<u8>) {
        (self.extent.width, self.extent.height).write(out);
        write_length(self.pages.len(), out);
        self.pages.iter().for_each(|page| page.write(out));
    }

    fn read(input: &mut Input<'_>) -> Result<Self, Malformed> {
        let (width, height) = Written::read(input)?;
        let extent = Extent { width, height };
        if !(1..=MOST_EDGE).contains(&width) || !(1..=MOST_EDGE).contains(&height) {
            return Err(Malformed::Content);
        }
        let pages: Vec<PageRef> = Written::read(input)?;
        let (across, down) = pages_across(extent);
        let fits = pages.len() == across as usize * down as usize;
        if fits { Ok(Self { extent, pages }) } else { Err(Malformed::Content) }
    }
}

impl Node for PageNode {
    const KIND: Kind = Kind::Page;

    fn references(&self, visit: &mut dyn FnMut(Kind, Hash)) {
        for tile in &self.tiles {
            if let TileRef::Stored(hash) = tile {
                visit(Kind::Tile, *hash);
            }
        }
    }
}

impl Node for PlaneNode {
    const KIND: Kind = Kind::Plane;

    fn references(&self, visit: &mut dyn FnMut(Kind, Hash)) {
        for page in &self.pages {
            if let PageRef::Stored(hash) = page {
                visit(Kind::Page, *hash);
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_tile_stands_in_one_page() {
        let extent = Extent { width: 64 * 19, height: 64 * 9 - 5 };
        let (across, down) = pages_across(extent);
        assert_eq!((across, down), (3, 2));
        let mut places: Vec<_> =
            (0..6).flat_map(|page| page_places(extent, page)).map(|at| (at.y, at.x)).collect();
        places.sort_unstable();
        let all: Vec<_> = extent.tile_places().map(|at| (at.y, at.x)).collect();
        assert_eq!(places, all);
    }

    #[test]
    fn a_plane_with_too_few_pages_or_of_no_extent_is_refused() {
        let plane = |width, pages| PlaneNode {
            extent: Extent { width, height: 64 },
            pages: vec![PageRef::Uniform(3); pages],
        };
        let read = |plane: &PlaneNode| PlaneNode::of_content(&plane.content());
        assert_eq!(read(&plane(513, 2)), Ok(plane(513, 2)));
        for wrong in [plane(513, 1), plane(0, 0), plane(MOST_EDGE + 1, 129)] {
            assert_eq!(read(&wrong), Err(Malformed::Content));
        }
    }

    #[test]
    fn a_version_that_is_not_known_is_told_by_its_number() {
        let mut content = PageNode { tiles: vec![TileRef::Uniform(1)] }.content();
        content[0] = 9;
        assert_eq!(PageNode::of_content(&content), Err(Malformed::Version(9)));
    }
}
