//! A section that can be folded away behind its heading.

use egui::{Align2, Id, Role, Sense, Ui, WidgetInfo, pos2, vec2};
use lucide_icons::Icon;

use super::focus_ring;
use crate::theme;

/// Shows the heading, and the contents while it is open. Whether it is, is remembered under its name.
pub(crate) fn fold(ui: &mut Ui, name: &str, open_at_first: bool, contents: impl FnOnce(&mut Ui)) {
    let colours = theme::colours(ui);
    let id = Id::unique(("fold", name));
    let mut open = ui.data(|data| data.get_temp::<bool>(id)).unwrap_or(open_at_first);
    let size = vec2(ui.available_width(), theme::ROW);
    let (rect, response) = ui.allocate_exact_size(size, Sense::click());
    if response.clicked() {
        open = !open;
        ui.data_mut(|data| data.insert_temp(id, open));
    }
    response.widget_info(|| WidgetInfo::labeled(Role::Button, true, name));
    ui.ctx().accesskit_node_builder(response.id, |node| node.set_expanded(open));
    let colour = if response.hovered() { colours.text } else { colours.text_soft };
    let painter = ui.painter();
    let at = rect.left_center();
    painter.text(at, Align2::LEFT_CENTER, name, theme::semibold(13.0), colour);
    let icon = if open { Icon::ChevronDown } else { Icon::ChevronRight };
    let at = pos2(rect.right() - 8.0, rect.center().y);
    painter.text(at, Align2::CENTER_CENTER, char::from(icon), theme::icons(16.0), colour);
    focus_ring(ui, &response, rect.expand2(vec2(4.0, 0.0)), f32::from(theme::RADIUS));
    if open {
        contents(ui);
    }
}
