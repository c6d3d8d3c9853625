//! What is being drawn over a view: a lasso's line, a gradient's way.

use egui::{Color32, Pos2, Shape, Stroke, Ui};

use crate::desk::{Desk, Motion, View};

/// Lines of two tones show on white and on black.
const DARK: Stroke = Stroke { width: 3.5, color: Color32::from_black_alpha(150) };
const LIGHT: Stroke = Stroke { width: 1.5, color: Color32::from_gray(242) };

/// The radius of a gradient's ends.
const END: f32 = 4.0;

pub(in crate::panes) fn show(ui: &Ui, desk: &Desk, view: View) {
    let Some(gesture) = desk.gesture.filter(|gesture| gesture.view == view) else { return };
    let rect = if view == View::Model { desk.model_view.rect } else { desk.flat_view.rect };
    let painter = ui.painter().with_clip_rect(rect.intersect(ui.clip_rect()));
    let line = |points: Vec<Pos2>, closes: bool| {
        for stroke in [DARK, LIGHT] {
            painter.add(Shape::line(points.clone(), stroke));
        }
        if let (true, [first, .., last]) = (closes, &points[..]) {
            painter.extend(Shape::dashed_line(&[*last, *first], LIGHT, 4.0, 4.0));
        }
    };
    match gesture.motion {
        Motion::Lasso => {
            if let Some(lasso) = &desk.lasso {
                line(lasso.points.clone(), true);
            }
        }
        Motion::Gradient => {
            let Some(gradient) = &desk.gradient else { return };
            line(gradient.line.to_vec(), false);
            let [from, to] = gradient.line;
            painter.circle(from, END, LIGHT.color, Stroke::new(1.5, DARK.color));
            painter.circle(to, END, Color32::from_gray(40), Stroke::new(1.5, LIGHT.color));
        }
        _ => {}
    }
}
