//! A tile is an identity; its body may be in memory, packed, or elsewhere.
//!
//! Two tiles are *the same* when they are uniform with one value or share one [`TileBody`]. That is
//! how every reader learns what changed. Moving a body between memory and a page source keeps its
//! identity: nobody else needs to know where it is.

use std::any::Any;
use std::fmt::Debug;
use std::sync::{Arc, PoisonError, RwLock, RwLockReadGuard, RwLockWriteGuard};

use crate::{PackedTexels, PageError};

/// Texels along a tile's edge.
pub const TILE_EDGE: usize = 64;
/// Texels in a tile.
pub const TILE_TEXELS: usize = TILE_EDGE * TILE_EDGE;
/// A tile's values, row by row from its top left texel.
pub type Texels = [u16; TILE_TEXELS];

/// A tile's place in its plane, counted in tiles from the top left.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct TileAt {
    /// Column.
    pub x: u32,
    /// Row.
    pub y: u32,
}

impl TileAt {
    /// The tile that holds texel (`x`, `y`).
    pub const fn of_texel(x: u32, y: u32) -> Self {
        Self { x: x / TILE_EDGE as u32, y: y / TILE_EDGE as u32 }
    }

    /// The texel at this tile's top left.
    pub const fn first_texel(self) -> (u32, u32) {
        (self.x * TILE_EDGE as u32, self.y * TILE_EDGE as u32)
    }
}

/// Where texel (`x`, `y`) of a plane stands inside its tile.
pub const fn texel_index(x: u32, y: u32) -> usize {
    (y as usize % TILE_EDGE) * TILE_EDGE + x as usize % TILE_EDGE
}

/// A place outside this program's memory that holds a body's values: the project file implements this.
pub trait PagedTexels: Any + Debug + Send + Sync {
    /// The values, brought back.
    ///
    /// # Errors
    /// [`PageError`] when they can't be had.
    fn read(&self) -> Result<Arc<Texels>, PageError>;

    /// Bytes of memory that knowing the place takes.
    fn resident_bytes(&self) -> usize;
}

#[derive(Debug)]
enum Values {
    /// As they are.
    Resident(Arc<Texels>),
    /// Packed in memory.
    Packed(PackedTexels),
    /// At the body's home alone.
    AtHome,
}

#[derive(Debug)]
struct Kept {
    values: Values,
    /// A place that holds the same values, so that memory may let go of them.
    home: Option<Arc<dyn PagedTexels>>,
}

/// The values behind a tile's identity, wherever they are.
#[derive(Debug)]
pub struct TileBody {
    kept: RwLock<Kept>,
}

impl TileBody {
    fn resident(texels: Arc<Texels>) -> Arc<Self> {
        Self::keeping(Values::Resident(texels), None)
    }

    fn keeping(values: Values, home: Option<Arc<dyn PagedTexels>>) -> Arc<Self> {
        Arc::new(Self { kept: RwLock::new(Kept { values, home }) })
    }

    fn kept(&self) -> RwLockReadGuard<'_, Kept> {
        self.kept.read().unwrap_or_else(PoisonError::into_inner)
    }

    fn kept_for_change(&self) -> RwLockWriteGuard<'_, Kept> {
        self.kept.write().unwrap_or_else(PoisonError::into_inner)
    }

    /// A body whose values lie at `home`.
    pub fn away(home: Arc<dyn PagedTexels>) -> Arc<Self> {
        Self::keeping(Values::AtHome, Some(home))
    }

    /// The values; brought back when they are not resident.
    ///
    /// # Errors
    /// [`PageError`] when they can't be had.
    pub fn read(&self) -> Result<Arc<Texels>, PageError> {
        let kept = self.kept();
        match (&kept.values, &kept.home) {
            (Values::Resident(texels), _) => Ok(Arc::clone(texels)),
            (Values::Packed(packed), _) => Ok(Arc::from(packed.unpacked()?)),
            (Values::AtHome, Some(home)) => {
                let home = Arc::clone(home);
                // A disk may be slow: nobody waits for it who only wants to know where the body is.
                drop(kept);
                home.read()
            }
            (Values::AtHome, None) => Err(PageError { reason: "a tile has no home".to_owned() }),
        }
    }

    /// Says where else the values lie from now on: memory may let go of them. Resident ones stay as long as
    /// nobody asks for room. The identity stays.
    pub fn set_home(&self, home: Arc<dyn PagedTexels>) {
        let mut kept = self.kept_for_change();
        if !matches!(kept.values, Values::Resident(_)) {
            kept.values = Values::AtHome;
        }
        kept.home = Some(home);
    }

    /// Where else the values lie.
    pub fn home(&self) -> Option<Arc<dyn PagedTexels>> {
        self.kept().home.clone()
    }

    /// Lets go of the values where they lie at a home too; else packs them in memory, if that saves
    /// anything. Gives the bytes that it saved.
    pub fn let_go(&self) -> usize {
        let texels = {
            let mut kept = self.kept_for_change();
            let before = kept.bytes();
            if kept.home.is_some() {
                kept.values = Values::AtHome;
                return before.saturating_sub(kept.bytes());
            }
            match &kept.values {
                Values::Resident(texels) => Arc::clone(texels),
                Values::Packed(_) | Values::AtHome => return 0,
            }
        };
        let packed = PackedTexels::of(&texels);
        let saved = size_of::<Texels>().saturating_sub(packed.bytes());
        let mut kept = self.kept_for_change();
        // Others may have moved it meanwhile.
        if saved == 0 || !matches!(kept.values, Values::Resident(_)) {
            return 0;
        }
        kept.values = Values::Packed(packed);
        saved
    }

    /// Makes the values resident again.
    ///
    /// # Errors
    /// [`PageError`] when they can't be had.
    pub fn page_in(&self) -> Result<(), PageError> {
        let texels = self.read()?;
        self.kept_for_change().values = Values::Resident(texels);
        Ok(())
    }

    /// True while the values lie in memory as they are.
    pub fn is_resident(&self) -> bool {
        matches!(self.kept().values, Values::Resident(_))
    }

    /// Bytes of memory that the body takes now.
    pub fn resident_bytes(&self) -> usize {
        self.kept().bytes()
    }
}

impl Kept {
    fn bytes(&self) -> usize {
        let values = match &self.values {
            Values::Resident(_) => size_of::<Texels>(),
            Values::Packed(packed) => packed.bytes(),
            Values::AtHome => 0,
        };
        values + self.home.as_ref().map_or(0, |home| home.resident_bytes())
    }
}

/// A tile of a plane: one value everywhere (costs nothing), or an identity with a body.
#[derive(Debug, Clone)]
pub enum Tile {
    /// Every texel has this value.
    Uniform(u16),
    /// Texels that differ, or may.
    Texels(Arc<TileBody>),
}

/// A tile's values, at hand for reading.
#[derive(Debug, Clone)]
pub enum TileRead {
    /// Every texel has this value.
    Uniform(u16),
    /// The values.
    Texels(Arc<Texels>),
}

impl TileRead {
    /// The value at an index from [`texel_index`].
    pub fn at(&self, index: usize) -> u16 {
        match self {
            Self::Uniform(value) => *value,
            Self::Texels(texels) => texels[index],
        }
    }
}

impl Tile {
    /// A tile of these values; uniform where they are all one.
    pub fn of(texels: &Texels) -> Self {
        if texels.iter().all(|&value| value == texels[0]) {
            Self::Uniform(texels[0])
        } else {
            Self::Texels(TileBody::resident(Arc::new(*texels)))
        }
    }

    /// True when both are one identity: the same body, or uniform with one value.
    pub fn same(&self, other: &Self) -> bool {
        match (self, other) {
            (Self::Uniform(a), Self::Uniform(b)) => a == b,
            (Self::Texels(a), Self::Texels(b)) => Arc::ptr_eq(a, b),
            _ => false,
        }
    }

    /// The values.
    ///
    /// # Errors
    /// [`PageError`] when the body is elsewhere and can't be had.
    pub fn read(&self) -> Result<TileRead, PageError> {
        Ok(match self {
            Self::Uniform(value) => TileRead::Uniform(*value),
            Self::Texels(body) => TileRead::Texels(body.read()?),
        })
    }

    /// The values for writing. A body that anybody else holds, were it weakly, is copied first, and then has a
    /// new identity.
    ///
    /// # Errors
    /// [`PageError`] when the body is elsewhere and can't be had.
    pub fn write(&mut self) -> Result<&mut Texels, PageError> {
        let shared = match self {
            Self::Uniform(value) => Some(Arc::new([*value; TILE_TEXELS])),
            Self::Texels(body) if Arc::strong_count(body) + Arc::weak_count(body) != 1 => {
                Some(body.read()?)
            }
            Self::Texels(body) => {
                body.page_in()?;
                None
            }
        };
        if let Some(texels) = shared {
            *self = Self::Texels(TileBody::resident(texels));
        }
        let reason = || PageError { reason: "a tile was paged out while being written".to_owned() };
        let Self::Texels(body) = self else { return Err(reason()) };
        let body = Arc::get_mut(body).ok_or_else(reason)?;
        let kept = body.kept.get_mut().unwrap_or_else(PoisonError::into_inner);
        // What lies there will no longer be the same.
        kept.home = None;
        match &mut kept.values {
            Values::Resident(texels) => Ok(Arc::make_mut(texels)),
            Values::Packed(_) | Values::AtHome => Err(reason()),
        }
    }

    /// A number that is one for each identity while it lives, to count distinct tiles; none for uniform ones.
    pub fn address(&self) -> Option<usize> {
        match self {
            Self::Uniform(_) => None,
            Self::Texels(body) => Some(Arc::as_ptr(body).addr()),
        }
    }

    /// Where the values of a body stand in memory now, as a hint to fetch them early; none where that
    /// can't be told at once.
    pub fn values_address(&self) -> Option<usize> {
        let Self::Texels(body) = self else { return None };
        match &body.kept.try_read().ok()?.values {
            Values::Resident(texels) => Some(Arc::as_ptr(texels).addr()),
            Values::Packed(_) | Values::AtHome => None,
        }
    }

    /// Bytes of memory that this tile takes now.
    pub fn resident_bytes(&self) -> usize {
        match self {
            Self::Uniform(_) => 0,
            Self::Texels(body) => body.resident_bytes(),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[derive(Debug)]
    struct Shelf(Arc<Texels>);

    impl PagedTexels for Shelf {
        fn read(&self) -> Result<Arc<Texels>, PageError> {
            Ok(Arc::clone(&self.0))
        }

        fn resident_bytes(&self) -> usize {
            0
        }
    }

    #[derive(Debug)]
    struct Lost;

    impl PagedTexels for Lost {
        fn read(&self) -> Result<Arc<Texels>, PageError> {
            Err(PageError { reason: "the disk is gone".to_owned() })
        }

        fn resident_bytes(&self) -> usize {
            0
        }
    }

    fn ramp() -> Texels {
        std::array::from_fn(|index| index as u16)
    }

    #[test]
    fn equal_values_make_a_uniform_tile_that_costs_nothing() {
        let tile = Tile::of(&[7; TILE_TEXELS]);
        assert!(tile.same(&Tile::Uniform(7)));
        assert_eq!(tile.resident_bytes(), 0);
    }

    #[test]
    fn writing_a_shared_tile_leaves_the_other_holder_alone() {
        let kept = Tile::of(&ramp());
        let mut written = kept.clone();
        written.write().unwrap()[5] = 999;
        assert_eq!(kept.read().unwrap().at(5), 5);
        assert_eq!(written.read().unwrap().at(5), 999);
        assert!(!written.same(&kept));
    }

    #[test]
    fn writing_a_tile_that_somebody_knows_by_its_body_gives_it_another_body() {
        let mut tile = Tile::of(&ramp());
        let Tile::Texels(body) = &tile else { panic!("not uniform") };
        let known = Arc::downgrade(body);
        tile.write().unwrap()[5] = 999;
        assert_eq!(tile.read().unwrap().at(5), 999);
        assert!(known.upgrade().is_none(), "what was known is gone, not changed");
    }

    #[test]
    fn writing_a_tile_that_nobody_else_holds_keeps_its_identity() {
        let mut tile = Tile::of(&ramp());
        let Tile::Texels(before) = &tile else { panic!("not uniform") };
        let before = Arc::as_ptr(before);
        tile.write().unwrap()[5] = 999;
        let Tile::Texels(after) = &tile else { panic!("not uniform") };
        assert_eq!(before, Arc::as_ptr(after));
    }

    #[test]
    fn paging_out_and_in_keeps_identity_and_values() {
        let tile = Tile::of(&ramp());
        let other = tile.clone();
        let Tile::Texels(body) = &tile else { panic!("not uniform") };
        body.set_home(Arc::new(Shelf(Arc::new(ramp()))));
        assert_eq!((other.resident_bytes(), body.let_go()), (8192, 8192));
        assert!(tile.same(&other) && !body.is_resident());
        assert_eq!(other.resident_bytes(), 0);
        assert_eq!(other.read().unwrap().at(77), 77);
        body.page_in().unwrap();
        assert_eq!(other.resident_bytes(), 8192);
    }

    #[test]
    fn a_packed_tile_goes_home_and_one_that_is_written_leaves_it() {
        let mut tile = Tile::of(&ramp());
        let Tile::Texels(body) = &tile else { panic!("not uniform") };
        assert!(body.let_go() > 0 && tile.resident_bytes() > 0);
        body.set_home(Arc::new(Shelf(Arc::new(ramp()))));
        assert_eq!(tile.resident_bytes(), 0);
        tile.write().unwrap()[5] = 999;
        let Tile::Texels(body) = &tile else { panic!("not uniform") };
        assert!(body.let_go() > 0);
        assert_eq!(tile.read().unwrap().at(5), 999);
        assert!(tile.resident_bytes() > 0);
    }

    #[test]
    fn a_packed_tile_is_the_same_tile_with_the_same_values_in_less_memory() {
        let tile = Tile::of(&ramp());
        let other = tile.clone();
        let Tile::Texels(body) = &tile else { panic!("not uniform") };
        let saved = body.let_go();
        assert!(saved > 4096 && !body.is_resident());
        assert_eq!(other.resident_bytes(), 8192 - saved);
        assert!(tile.same(&other));
        assert_eq!(other.read().unwrap().at(4095), 4095);
        assert_eq!(body.let_go(), 0);
    }

    #[test]
    fn noise_that_packing_would_only_enlarge_stays_as_it_is() {
        let mut state = 1_u32;
        let noise: Texels = std::array::from_fn(|_| {
            state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
            (state >> 16) as u16
        });
        let tile = Tile::of(&noise);
        let Tile::Texels(body) = &tile else { panic!("not uniform") };
        assert_eq!(body.let_go(), 0);
        assert!(body.is_resident());
    }

    #[test]
    fn a_lost_page_is_an_error_and_not_a_silent_default() {
        let mut tile = Tile::Texels(TileBody::away(Arc::new(Lost)));
        assert_eq!(tile.read().unwrap_err().reason, "the disk is gone");
        assert!(tile.write().is_err());
    }
}
