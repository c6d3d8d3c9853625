//! One frame: what came in goes to the screen's panels, what the views show is drawn, and the panels over it.

use std::time::Duration;

use winit::event_loop::ActiveEventLoop;

use super::OpenWindow;
use crate::desk::Desk;
use crate::error::AppError;
use crate::screen;

/// Until a lost adapter is asked for again.
const TRY_AGAIN: Duration = Duration::from_secs(1);

impl OpenWindow {
    pub(super) fn frame(
        &mut self,
        events: &ActiveEventLoop,
        desk: &mut Desk,
    ) -> Result<(), AppError> {
        if self.graphics.is_lost() {
            if self.graphics.make_anew(events, &self.window).is_err() {
                // A driver that begins again takes a moment, and what was painted must outlive it.
                self.repaint_after(TRY_AGAIN);
                return Ok(());
            }
            self.input.set_max_texture_side(self.graphics.largest_texture());
        }
        desk.pictures = self.graphics.shown_pictures();
        let input = self.input.take_egui_input(&self.window);
        let output = self.context.run_ui(input, |ui| screen::show(ui, desk));
        desk.hand.samples.clear();
        let platform = output.platform_output;
        self.input.handle_platform_output_with_event_loop(&self.window, events, platform);
        self.follow(desk);
        let root = output.viewport_output.get(&egui::ViewportId::ROOT);
        if let Some(delay) = root.map(|root| root.repaint_delay) {
            self.repaint_after(delay);
        }
        let theme = self.context.theme();
        self.graphics.take_textures(output.textures_delta);
        let is_more = self.graphics.draw_pictures(desk, theme);
        let panels = self.context.tessellate(output.shapes, output.pixels_per_point);
        let ground = crate::theme::of(theme).deep;
        let shown = self.graphics.paint(&self.window, &panels, output.pixels_per_point, ground)?;
        if !shown || is_more {
            self.window.request_redraw();
        }
        if let Some(fault) = self.graphics.take_fault() {
            desk.notices.error(format!("the graphics adapter: {fault}"));
        }
        Ok(())
    }
}
