//! What dabs do to one block of 8 x 8 texels: loops over arrays, which become vector code.
//!
//! What runs inside [`raster::Lanes::run`] is inlined by force, and stands in structs instead of closures,
//! which can't be: a call would leave the vector code.
//!
//! Every way through here gives a texel the same bytes: what is passed over would have multiplied by 1 or
//! added 0.

use glam::{Vec2, Vec3};
use raster::Work;
use surface::{BLOCK_TEXELS, TexelBlock, TexelFrame};

use crate::BuildUp;
use crate::built_up::Shaded;
use crate::dab::Touch;
use crate::falloff::{Edge, Falloff, dab_reach, facing_weight};
use crate::grid::{Distances, Grid};
use crate::imprint::Lying;

/// A number for each texel of a block.
pub(crate) type Lane = [f32; BLOCK_TEXELS];

/// A whole number from 0 to 2^23 as such. A cast looks at each for what doesn't fit, one after another.
#[inline(always)]
pub(crate) fn counted(whole: f32) -> u32 {
    const BITS: u32 = 1 << 23;
    (whole + BITS as f32).to_bits() & (BITS - 1)
}

/// The dab may cover something of the block.
pub(crate) const NEAR: u8 = 1;
/// The whole block lies where the dab covers fully.
pub(crate) const CORE: u8 = 2;
/// The whole block faces the dab.
pub(crate) const FACING: u8 = 4;
/// The whole block lies between the ends of the dab's edge.
pub(crate) const BETWEEN: u8 = 8;

/// How much a dab adds, and how.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Deposit {
    /// What it takes where it covers fully.
    most: f32,
    /// What a dab leaves where it is full on.
    falloff: Falloff,
    /// What no dab of this ceiling goes below.
    floor: f32,
    how: BuildUp,
}

impl Deposit {
    pub(crate) fn new(touch: &Touch, how: BuildUp) -> Self {
        let most = match how {
            BuildUp::Gradual => touch.flow,
            BuildUp::Even => touch.ceiling,
        };
        Self { most, falloff: Falloff::new(most), floor: 1.0 - touch.ceiling, how }
    }

    /// Adds a dab to the bare shares of a block. What it would leave of a share of 1 is given: at 1 nothing
    /// changes.
    #[inline(always)]
    #[expect(clippy::inline_always, reason = "see the module")]
    fn add(&self, bare: &mut Lane, dab: &impl Left) {
        let floor = self.floor;
        match self.how {
            BuildUp::Gradual if floor == 0.0 => {
                for (number, bare) in bare.iter_mut().enumerate() {
                    *bare *= dab.left(number);
                }
            }
            BuildUp::Gradual => {
                for (number, bare) in bare.iter_mut().enumerate() {
                    let over = *bare - floor;
                    let over = if over > 0.0 { over } else { 0.0 };
                    *bare -= over * (1.0 - dab.left(number));
                }
            }
            BuildUp::Even => {
                for (number, bare) in bare.iter_mut().enumerate() {
                    let left = dab.left(number);
                    *bare = if left < *bare { left } else { *bare };
                }
            }
        }
    }
}

/// Bare shares so small that they count as covered become 0: products of them would be denormal numbers,
/// which are slow.
#[inline(always)]
#[expect(clippy::inline_always, reason = "see the module")]
fn settle(bare: &mut Lane) {
    for bare in bare {
        *bare = if *bare > 1e-12 { *bare } else { 0.0 };
    }
}

/// The radii of a dab among texels of some width.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Radii {
    pub(crate) edge: Edge,
    /// Beyond this nothing is covered. A little more than the arithmetic of texels needs.
    pub(crate) farthest: f32,
    /// Up to here all is covered fully. A little less than that.
    pub(crate) core: f32,
    /// The ends of the edge, a little nearer to each other; nothing lies between them where the edge may
    /// have to be widened.
    pub(crate) between: [f32; 2],
    /// True where the edge may have to be widened.
    pub(crate) narrow: bool,
}

impl Radii {
    /// `texel` is the most that distance changes from one texel to the next.
    pub(crate) fn new(radius: f32, hardness: f32, texel: f32) -> Self {
        let (inner, width) = (radius * hardness, radius - radius * hardness);
        let narrow = width < texel;
        let rounding = radius * 1e-6;
        let core = if narrow { (radius + inner - texel) * 0.5 } else { inner };
        let between =
            if narrow { [0.0; 2] } else { [inner * 1.0001 + rounding, radius * 0.9999 - rounding] };
        Self {
            edge: Edge::new(radius, hardness),
            farthest: dab_reach(radius, texel) * 1.0001,
            core: core * 0.9999 - rounding,
            between,
            narrow,
        }
    }

    /// Of a dab that covers nothing beyond `farthest`, and of which nothing else is known.
    pub(crate) fn within(farthest: f32) -> Self {
        let edge = Edge::new(farthest, 0.0);
        Self { edge, farthest, core: -1.0, between: [0.0; 2], narrow: false }
    }
}

/// A dab of the surface, as seen from a tile's origin.
#[derive(Clone, Copy)]
pub(crate) struct Ball<'a> {
    pub(crate) centre: Vec3,
    /// Towards the brush, turned to the side of the triangles that is painted.
    pub(crate) normal: Vec3,
    pub(crate) radii: Radii,
    pub(crate) deposit: Deposit,
    /// See [`crate::tip::across`]; there for an oval, whose edge is as wide as it has to be.
    pub(crate) across: Option<Vec3>,
    /// There for what is more than a disc or an oval.
    pub(crate) print: Option<Lying<'a>>,
}

/// How each texel's point moves with one texel across and down.
#[derive(Debug)]
pub(crate) struct Steps {
    across: [Lane; 3],
    down: [Lane; 3],
}

impl Steps {
    pub(crate) fn of(block: &TexelBlock, frames: &[TexelFrame]) -> Self {
        let lane = |value: fn(&TexelFrame) -> f32| -> Lane {
            std::array::from_fn(|number| value(&frames[block.frame[number] as usize]))
        };
        Self {
            across: [lane(|f| f.du.x), lane(|f| f.du.y), lane(|f| f.du.z)],
            down: [lane(|f| f.dv.x), lane(|f| f.dv.y), lane(|f| f.dv.z)],
        }
    }

    /// How much the distance from a dab's centre changes from one texel to the next, at its steepest.
    #[inline(always)]
    #[expect(clippy::inline_always, reason = "see the module")]
    fn texel(&self, number: usize, away: Vec3, distance: f32) -> f32 {
        let along = |step: &[Lane; 3]| {
            step[0][number] * away.x + step[1][number] * away.y + step[2][number] * away.z
        };
        let (across, down) = (along(&self.across), along(&self.down));
        let change = (across * across + down * down).sqrt() / distance;
        if distance > 0.0 { change } else { 0.0 }
    }
}

impl Ball<'_> {
    /// False where its imprint falls on nothing of a block; true where it has none.
    pub(crate) fn meets(&self, block: &TexelBlock) -> bool {
        let print = self.print.as_ref();
        print.is_none_or(|print| print.meets(block.centre - self.centre, block.radius))
    }

    /// Hands what it leaves of each texel to `to`, in the shortest form that the block allows. `grid` is the
    /// block's and what [`Grid::own_squares`] gives, if it has one.
    #[inline(always)]
    #[expect(clippy::inline_always, reason = "see the module")]
    fn hand(&self, on: &Place<'_>, grid: Option<(&Grid, &Lane)>, class: u8, to: impl TakesLeft) {
        let (ball, block) = (*self, on.block);
        if let Some(print) = &ball.print {
            let shares = print.shares(|number| ball.away(block, number));
            let dab = Printed { shares: &shares, most: ball.deposit.most };
            return if class & FACING != 0 {
                to.take(&dab);
            } else {
                to.take(&Turned { ball, block, dab });
            };
        }
        if let Some(across) = ball.across {
            let squares = Oval { ball, block, across };
            // What is not between an oval's ends can't be told from the block's bounds.
            return ball.hand_from(block, class & !BETWEEN, squares, to);
        }
        let steps = on.steps.filter(|_| ball.radii.narrow);
        let core = Full(ball.deposit.falloff.left(-1.0));
        match (class & CORE != 0, class & FACING != 0, steps, grid) {
            (true, true, ..) => to.take(&core),
            (true, false, ..) => to.take(&Turned { ball, block, dab: core }),
            (_, true, Some(steps), _) => to.take(&Widened { ball, block, steps }),
            (_, false, Some(steps), _) => {
                to.take(&Turned { ball, block, dab: Widened { ball, block, steps } });
            }
            (_, _, None, Some((grid, own))) => {
                ball.hand_from(block, class, grid.from(ball.centre, own), to);
            }
            (_, _, None, None) => ball.hand_from(block, class, Points { ball, block }, to),
        }
    }

    /// The same where the edge is wide enough and not all of the block is fully covered.
    #[inline(always)]
    #[expect(clippy::inline_always, reason = "see the module")]
    fn hand_from(self, block: &TexelBlock, class: u8, squares: impl Squares, to: impl TakesLeft) {
        let ball = self;
        if class & FACING == 0 {
            to.take(&Turned { ball, block, dab: Across { ball, squares } });
        } else if class & BETWEEN == 0 {
            to.take(&Across { ball, squares });
        } else {
            to.take(&Between { ball, squares });
        }
    }

    #[inline(always)]
    #[expect(clippy::inline_always, reason = "see the module")]
    fn away(&self, block: &TexelBlock, number: usize) -> Vec3 {
        Vec3::new(
            block.offset[0][number] - self.centre.x,
            block.offset[1][number] - self.centre.y,
            block.offset[2][number] - self.centre.z,
        )
    }
}

/// What a dab leaves of each texel of a block, as a share.
trait Left {
    fn left(&self, number: usize) -> f32;
}

/// Where the dab covers fully.
struct Full(f32);

/// Squares of the texels' distances from the dab's centre.
trait Squares {
    fn square(&self, number: usize) -> f32;
}

/// From the points.
struct Points<'a> {
    ball: Ball<'a>,
    block: &'a TexelBlock,
}

/// In an oval's own measure.
struct Oval<'a> {
    ball: Ball<'a>,
    block: &'a TexelBlock,
    across: Vec3,
}

/// Where each distance lies between the ends of the edge.
struct Between<'a, S> {
    ball: Ball<'a>,
    squares: S,
}

/// Across the edge's ends.
struct Across<'a, S> {
    ball: Ball<'a>,
    squares: S,
}

/// Across the ends of an edge that may have to be widened.
struct Widened<'a> {
    ball: Ball<'a>,
    block: &'a TexelBlock,
    steps: &'a Steps,
}

/// Where the surface turns away from the dab.
struct Turned<'a, L> {
    ball: Ball<'a>,
    block: &'a TexelBlock,
    dab: L,
}

/// In the flat texture.
struct Flat<'a> {
    disc: Disc<'a>,
    block: &'a TexelBlock,
}

/// Where a tooth takes a share of the dab.
struct Toothed<'a, L> {
    dab: &'a L,
    tooth: &'a Lane,
}

/// By the shares of an imprint.
struct Printed<'a> {
    shares: &'a Lane,
    most: f32,
}

/// Given beforehand.
struct Given<'a>(&'a Lane);

impl Left for Full {
    #[inline(always)]
    #[expect(clippy::inline_always, reason = "see the module")]
    fn left(&self, _number: usize) -> f32 {
        self.0
    }
}

impl Squares for Points<'_> {
    #[inline(always)]
    #[expect(clippy::inline_always, reason = "see the module")]
    fn square(&self, number: usize) -> f32 {
        let away = self.ball.away(self.block, number);
        away.x * away.x + away.y * away.y + away.z * away.z
    }
}

impl Squares for Oval<'_> {
    #[inline(always)]
    #[expect(clippy::inline_always, reason = "see the module")]
    fn square(&self, number: usize) -> f32 {
        let away = self.ball.away(self.block, number);
        let short = away.x * self.across.x + away.y * self.across.y + away.z * self.across.z;
        away.x * away.x + away.y * away.y + away.z * away.z + short * short
    }
}

impl Squares for Distances<'_> {
    #[inline(always)]
    #[expect(clippy::inline_always, reason = "see the module")]
    fn square(&self, number: usize) -> f32 {
        Distances::square(self, number)
    }
}

impl<S: Squares> Left for Between<'_, S> {
    #[inline(always)]
    #[expect(clippy::inline_always, reason = "see the module")]
    fn left(&self, number: usize) -> f32 {
        let distance = self.squares.square(number).sqrt();
        self.ball.deposit.falloff.left(self.ball.radii.edge.place_between(distance))
    }
}

impl<S: Squares> Left for Across<'_, S> {
    #[inline(always)]
    #[expect(clippy::inline_always, reason = "see the module")]
    fn left(&self, number: usize) -> f32 {
        let distance = self.squares.square(number).sqrt();
        self.ball.deposit.falloff.left(self.ball.radii.edge.place(distance))
    }
}

impl Left for Widened<'_> {
    #[inline(always)]
    #[expect(clippy::inline_always, reason = "see the module")]
    fn left(&self, number: usize) -> f32 {
        let away = self.ball.away(self.block, number);
        let distance = (away.x * away.x + away.y * away.y + away.z * away.z).sqrt();
        let edge = self.ball.radii.edge.at_least(self.steps.texel(number, away, distance));
        self.ball.deposit.falloff.left(edge.place(distance))
    }
}

impl<L: Left> Left for Turned<'_, L> {
    #[inline(always)]
    #[expect(clippy::inline_always, reason = "see the module")]
    fn left(&self, number: usize) -> f32 {
        let ([x, y, z], towards) = (&self.block.normal, self.ball.normal);
        let cosine = x[number] * towards.x + y[number] * towards.y + z[number] * towards.z;
        let (left, facing) = (self.dab.left(number), facing_weight(cosine));
        // Not for all numbers is 1 - (1 - left) the same as left.
        if facing < 1.0 { 1.0 - (1.0 - left) * facing } else { left }
    }
}

impl Left for Flat<'_> {
    #[inline(always)]
    #[expect(clippy::inline_always, reason = "see the module")]
    fn left(&self, number: usize) -> f32 {
        let x = self.block.uv[0][number] - self.disc.centre.x;
        let y = self.block.uv[1][number] - self.disc.centre.y;
        let short = x * self.disc.across.x + y * self.disc.across.y;
        let place = self.disc.radii.edge.place((x * x + y * y + short * short).sqrt());
        self.disc.deposit.falloff.left(place)
    }
}

impl<L: Left> Left for Toothed<'_, L> {
    #[inline(always)]
    #[expect(clippy::inline_always, reason = "see the module")]
    fn left(&self, number: usize) -> f32 {
        1.0 - (1.0 - self.dab.left(number)) * self.tooth[number]
    }
}

impl Left for Printed<'_> {
    #[inline(always)]
    #[expect(clippy::inline_always, reason = "see the module")]
    fn left(&self, number: usize) -> f32 {
        1.0 - self.most * self.shares[number]
    }
}

impl Left for Given<'_> {
    #[inline(always)]
    #[expect(clippy::inline_always, reason = "see the module")]
    fn left(&self, number: usize) -> f32 {
        self.0[number]
    }
}

/// A dab of the flat texture.
#[derive(Clone, Copy)]
pub(crate) struct Disc<'a> {
    pub(crate) centre: Vec2,
    /// With the edge as wide as it has to be: all texels are of one size.
    pub(crate) radii: Radii,
    pub(crate) deposit: Deposit,
    /// See [`crate::tip::across`]; 0 for a disc.
    pub(crate) across: Vec2,
    /// There for what is more than a disc or an oval.
    pub(crate) print: Option<Lying<'a>>,
}

impl Disc<'_> {
    /// [`NEAR`] and [`CORE`] for a block, from the box of its UVs.
    pub(crate) fn class(&self, block: &TexelBlock) -> u8 {
        let nearest = self.centre.clamp(block.uv_low, block.uv_high).distance(self.centre);
        let farthest = (self.centre - block.uv_low).abs().max((block.uv_high - self.centre).abs());
        let middle = block.uv_low.midpoint(block.uv_high);
        let meets = |print: &Lying<'_>| {
            let away = (middle - self.centre).extend(0.0);
            print.meets(away, middle.distance(block.uv_high))
        };
        if nearest > self.radii.farthest || !self.print.as_ref().is_none_or(meets) {
            0
        } else if farthest.length() <= self.radii.core && self.across == Vec2::ZERO {
            NEAR | CORE
        } else {
            NEAR
        }
    }
}

/// What is done with what a dab leaves of a block.
trait TakesLeft {
    fn take(self, dab: &impl Left);
}

/// Takes the rest off the bare shares.
struct Add<'a>(&'a Deposit, &'a mut Lane);

impl TakesLeft for Add<'_> {
    #[inline(always)]
    #[expect(clippy::inline_always, reason = "see the module")]
    fn take(self, dab: &impl Left) {
        self.0.add(self.1, dab);
    }
}

/// The same with a tooth.
struct AddToothed<'a>(&'a Deposit, &'a mut Lane, &'a Lane);

impl TakesLeft for AddToothed<'_> {
    #[inline(always)]
    #[expect(clippy::inline_always, reason = "see the module")]
    fn take(self, dab: &impl Left) {
        self.0.add(self.1, &Toothed { dab, tooth: self.2 });
    }
}

/// Writes it down.
struct Keep<'a>(&'a mut Lane);

impl TakesLeft for Keep<'_> {
    #[inline(always)]
    #[expect(clippy::inline_always, reason = "see the module")]
    fn take(self, dab: &impl Left) {
        for (number, kept) in self.0.iter_mut().enumerate() {
            *kept = dab.left(number);
        }
    }
}

/// A block, and what is known of it.
#[derive(Debug)]
pub(crate) struct Place<'a> {
    pub(crate) block: &'a TexelBlock,
    /// There where a dab's edge may have to be widened.
    pub(crate) steps: Option<&'a Steps>,
    /// There where its points stand in one.
    pub(crate) grid: Option<&'a Grid>,
    /// The share of a dab that each texel takes, where the brush has tooth.
    pub(crate) tooth: Option<&'a Lane>,
}

/// Dabs of the surface that follow one another on a block; those with class 0 are passed over.
pub(crate) struct Balls<'a> {
    pub(crate) dabs: &'a [Ball<'a>],
    pub(crate) class: &'a [u8],
    pub(crate) on: &'a Place<'a>,
    pub(crate) bare: &'a mut Lane,
}

impl Work for Balls<'_> {
    type Done = ();

    #[inline(always)]
    #[expect(clippy::inline_always, reason = "see the module")]
    fn work(self) {
        let own = self.on.grid.map(Grid::own_squares);
        let grid = self.on.grid.zip(own.as_ref());
        for (ball, &class) in self.dabs.iter().zip(self.class) {
            match self.on.tooth {
                _ if class == 0 => {}
                None => ball.hand(self.on, grid, class, Add(&ball.deposit, self.bare)),
                Some(tooth) => {
                    ball.hand(self.on, grid, class, AddToothed(&ball.deposit, self.bare, tooth));
                }
            }
        }
        settle(self.bare);
    }
}

/// What one dab leaves of each texel.
pub(crate) struct LeftBy<'a> {
    pub(crate) ball: &'a Ball<'a>,
    pub(crate) class: u8,
    pub(crate) on: &'a Place<'a>,
}

impl Work for LeftBy<'_> {
    type Done = Lane;

    #[inline(always)]
    #[expect(clippy::inline_always, reason = "see the module")]
    fn work(self) -> Lane {
        let mut left = [1.0; BLOCK_TEXELS];
        let own = self.on.grid.map(Grid::own_squares);
        let grid = self.on.grid.zip(own.as_ref());
        self.ball.hand(self.on, grid, self.class, Keep(&mut left));
        left
    }
}

/// Adds a dab of which it is known what it leaves.
pub(crate) struct AddGiven<'a> {
    pub(crate) deposit: &'a Deposit,
    pub(crate) left: &'a Lane,
    pub(crate) tooth: Option<&'a Lane>,
    pub(crate) bare: &'a mut Lane,
}

impl Work for AddGiven<'_> {
    type Done = ();

    #[inline(always)]
    #[expect(clippy::inline_always, reason = "see the module")]
    fn work(self) {
        let given = Given(self.left);
        match self.tooth {
            None => self.deposit.add(self.bare, &given),
            Some(tooth) => self.deposit.add(self.bare, &Toothed { dab: &given, tooth }),
        }
        settle(self.bare);
    }
}

/// Adds a dab that differs in what it paints.
pub(crate) struct AddShaded<'a> {
    /// What it leaves.
    pub(crate) left: &'a Lane,
    pub(crate) tooth: Option<&'a Lane>,
    pub(crate) touch: &'a Touch,
    pub(crate) shades: &'a mut Shaded,
}

impl Work for AddShaded<'_> {
    type Done = ();

    /// Source over: the dab hides what is under it by its cover, and all is weighted by what can be seen of it.
    #[inline(always)]
    #[expect(clippy::inline_always, reason = "see the module")]
    fn work(self) {
        let Self { left, tooth, touch, shades: [hue, shade, value, cover] } = self;
        for n in 0..BLOCK_TEXELS {
            let share = 1.0 - left[n];
            let share = tooth.map_or(share, |tooth| share * tooth[n]);
            let covered = share + cover[n] * (1.0 - share);
            let part = if covered > 0.0 { share / covered } else { 0.0 };
            hue[n] += (touch.shades[0] - hue[n]) * part;
            shade[n] += (touch.shades[1] - shade[n]) * part;
            value[n] += (touch.shades[2] - value[n]) * part;
            cover[n] = covered;
        }
    }
}

/// What one dab of the flat texture leaves of each texel.
pub(crate) struct LeftByDisc<'a> {
    pub(crate) disc: &'a Disc<'a>,
    pub(crate) class: u8,
    pub(crate) block: &'a TexelBlock,
}

impl Work for LeftByDisc<'_> {
    type Done = Lane;

    #[inline(always)]
    #[expect(clippy::inline_always, reason = "see the module")]
    fn work(self) -> Lane {
        let mut left = [1.0; BLOCK_TEXELS];
        if self.class != 0 {
            self.disc.hand(self.block, self.class, Keep(&mut left));
        }
        left
    }
}

/// Dabs of the flat texture that follow one another on a block; those with class 0 are passed over.
pub(crate) struct Discs<'a> {
    pub(crate) dabs: &'a [Disc<'a>],
    pub(crate) class: &'a [u8],
    pub(crate) block: &'a TexelBlock,
    pub(crate) tooth: Option<&'a Lane>,
    pub(crate) bare: &'a mut Lane,
}

impl Work for Discs<'_> {
    type Done = ();

    #[inline(always)]
    #[expect(clippy::inline_always, reason = "see the module")]
    fn work(self) {
        for (&disc, &class) in self.dabs.iter().zip(self.class) {
            match self.tooth {
                _ if class == 0 => {}
                None => disc.hand(self.block, class, Add(&disc.deposit, self.bare)),
                Some(tooth) => {
                    disc.hand(self.block, class, AddToothed(&disc.deposit, self.bare, tooth));
                }
            }
        }
        settle(self.bare);
    }
}

impl Disc<'_> {
    /// Hands what it leaves of each texel to `to`.
    #[inline(always)]
    #[expect(clippy::inline_always, reason = "see the module")]
    fn hand(&self, block: &TexelBlock, class: u8, to: impl TakesLeft) {
        let disc = *self;
        if let Some(print) = &disc.print {
            let away = |n: usize| {
                let (x, y) = (block.uv[0][n], block.uv[1][n]);
                Vec3::new(x - disc.centre.x, y - disc.centre.y, 0.0)
            };
            to.take(&Printed { shares: &print.shares(away), most: disc.deposit.most });
        } else if class & CORE != 0 {
            to.take(&Full(disc.deposit.falloff.left(-1.0)));
        } else {
            to.take(&Flat { disc, block });
        }
    }
}
