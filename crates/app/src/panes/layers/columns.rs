//! Where the columns of the table are, for a width: where there is little, blend mode and opacity move below the
//! name, and cells become small.

use egui::Rangef;

/// Left of everything.
const EDGE: f32 = 8.0;
const GRIP: f32 = 16.0;
const EYE: f32 = 28.0;
const MENU: f32 = 28.0;
const BLEND: f32 = 96.0;
const OPACITY: f32 = 64.0;
const GAP: f32 = 8.0;
/// A cell that shows a picture and a number.
const CELL: Rangef = Rangef { min: 56.0, max: 220.0 };
/// A cell where there is little room.
const SMALL_CELL: f32 = 30.0;
const NAME: f32 = 148.0;
const SHORT_NAME: f32 = 84.0;

/// See the module. All in points from the table's left edge.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Columns {
    /// What a row is dragged by; it can also be dragged by its name.
    pub(crate) grip: Option<Rangef>,
    /// Shown or hidden.
    pub(crate) eye: Rangef,
    /// The name.
    pub(crate) name: Rangef,
    /// The row's blend mode; none where it stands below the name.
    pub(crate) blend: Option<Rangef>,
    /// The row's opacity; likewise.
    pub(crate) opacity: Option<Rangef>,
    /// One for each channel, as far as there is room.
    pub(crate) cells: Vec<Rangef>,
    /// The layer's mask.
    pub(crate) mask: Option<Rangef>,
    /// What else can be done with a row; it is also under the right button.
    pub(crate) menu: Option<Rangef>,
}

impl Columns {
    /// The columns of a table of this width.
    pub(crate) fn of(width: f32, channels: usize) -> Self {
        let count = channels as f32 + 1.0;
        let fixed = EDGE + GRIP + EYE + MENU + GAP;
        let wide = fixed + NAME + BLEND + OPACITY + 2.0 * GAP + count * (CELL.min + GAP);
        if width >= wide { Self::wide(width, channels) } else { Self::narrow(width, channels) }
    }

    fn wide(width: f32, channels: usize) -> Self {
        let count = channels as f32 + 1.0;
        let fixed = EDGE + GRIP + EYE + NAME + BLEND + OPACITY + 3.0 * GAP + MENU;
        let room = (width - fixed) / count - GAP;
        // Names get a part of what is left over.
        let cell = (CELL.min + (room - CELL.min) * 0.8).clamp(CELL.min, CELL.max);
        let mut right = RightToLeft(width - 4.0);
        let menu = Some(right.take(MENU, GAP));
        let mask = Some(right.take(cell, GAP));
        let mut cells: Vec<Rangef> = (0..channels).map(|_| right.take(cell, GAP)).collect();
        cells.reverse();
        let opacity = Some(right.take(OPACITY, GAP));
        let blend = Some(right.take(BLEND, GAP));
        let grip = Some(Rangef::new(EDGE, EDGE + GRIP));
        let eye = Rangef::new(EDGE + GRIP, EDGE + GRIP + EYE);
        let name = Rangef::new(eye.max, right.0);
        Self { grip, eye, name, blend, opacity, cells, mask, menu }
    }

    fn narrow(width: f32, channels: usize) -> Self {
        let has_grip = width >= 360.0;
        let has_menu = width >= 440.0;
        let left = EDGE / 2.0 + if has_grip { GRIP } else { 0.0 };
        let eye = Rangef::new(left, left + EYE);
        let mut right = RightToLeft(width - 4.0);
        let menu = has_menu.then(|| right.take(MENU, 4.0));
        let room = (right.0 - eye.max - SHORT_NAME).max(0.0);
        let fit = (room / (SMALL_CELL + 4.0)) as usize;
        let shown = fit.min(channels + 1);
        let most = if room > 320.0 { CELL.min } else { 48.0 };
        let cell = (room / shown.max(1) as f32 - 4.0).clamp(SMALL_CELL, most);
        let mask = (shown > channels).then(|| right.take(cell, 4.0));
        let mut cells: Vec<Rangef> =
            (0..shown.min(channels)).map(|_| right.take(cell, 4.0)).collect();
        cells.reverse();
        let grip = has_grip.then(|| Rangef::new(left - GRIP, left));
        let name = Rangef::new(eye.max, right.0);
        Self { grip, eye, name, blend: None, opacity: None, cells, mask, menu }
    }
}

struct RightToLeft(f32);

impl RightToLeft {
    /// A column, and a gap before it.
    fn take(&mut self, width: f32, gap: f32) -> Rangef {
        let column = Rangef::new(self.0 - width, self.0);
        self.0 = column.min - gap;
        column
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn columns_never_overlap_at_any_width() {
        for width in (140..2000).step_by(3) {
            for channels in [3, 5] {
                let columns = Columns::of(width as f32, channels);
                let mut all: Vec<Rangef> = columns.grip.into_iter().collect();
                all.extend([columns.eye, columns.name]);
                all.extend(columns.blend.into_iter().chain(columns.opacity));
                all.extend(columns.cells.iter().copied());
                all.extend(columns.mask.into_iter().chain(columns.menu));
                assert!(all.windows(2).all(|pair| pair[0].max <= pair[1].min), "{width}: {all:?}");
                assert!(all.iter().all(|column| column.span() >= 12.0), "{width}: {all:?}");
                assert!(all.last().is_some_and(|last| last.max <= width as f32));
            }
        }
    }

    #[test]
    fn a_table_at_a_side_keeps_its_channels_and_the_name() {
        let columns = Columns::of(320.0, 3);
        assert_eq!((columns.cells.len(), columns.mask.is_some()), (3, true));
        assert!(columns.name.span() >= SHORT_NAME);
        assert!(columns.blend.is_none());
        assert!(Columns::of(900.0, 3).blend.is_some());
    }
}
