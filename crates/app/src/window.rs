//! The window itself: events come in, frames go out. Everything that is shown is the desk's; what lives on the
//! graphics adapter can be made anew from it at any time.

mod frame;
mod graphics;
mod keeping;
mod kept_textures;
mod pen;
mod picture;
mod pictures;
mod unseen;

use std::path::PathBuf;
use std::sync::Arc;
use std::time::{Duration, Instant};

use egui_winit::accesskit_winit;
use winit::application::ApplicationHandler;
use winit::dpi::LogicalSize;
use winit::error::EventLoopError;
use winit::event::{StartCause, TouchPhase, WindowEvent};
use winit::event_loop::{ActiveEventLoop, ControlFlow, EventLoop, EventLoopProxy};
use winit::window::{Fullscreen, Window, WindowId};

use crate::desk::Desk;
use crate::error::AppError;
use crate::hand::HandSample;
use crate::on_disk::Untitled;
use crate::opening::Demo;
use crate::panes;
use crate::theme;
use graphics::Graphics;
use keeping::Keeping;
use pen::{Clock, PenNews, PenReport, PenSource as _, Pens};
pub use pictures::tile_pixels;
pub use unseen::{Spent, Unseen};

/// What the window opens with.
#[derive(Debug, Clone)]
pub enum Start {
    /// The demo.
    Demo,
    /// A model's file.
    File(PathBuf),
}

/// What reaches the window's thread from elsewhere.
#[derive(Debug)]
enum Message {
    /// Something asks to be shown, so long from now.
    Repaint { delay: Duration, pass: u64 },
    /// A pen.
    Pen(PenNews),
    /// A screen reader.
    Access(accesskit_winit::WindowEvent),
}

impl From<accesskit_winit::Event> for Message {
    fn from(event: accesskit_winit::Event) -> Self {
        Self::Access(event.window_event)
    }
}

/// Opens the window and gives back control when it is closed. `demo` is what the window can open without a file.
///
/// # Errors
/// [`AppError::NoDisplay`] where there is nothing to open a window on; the others when it can't be kept.
pub fn run(start: &Start, demo: Demo) -> Result<(), AppError> {
    let events = EventLoop::with_user_event().build().map_err(|error| match error {
        EventLoopError::RecreationAttempt | EventLoopError::ExitFailure(_) => {
            AppError::Window(error.to_string())
        }
        error => AppError::NoDisplay(without_place(&one_line(&error))),
    })?;
    let (keeping, preferences, fault) = Keeping::begin();
    let mut desk = Desk::new(preferences)?;
    if let Some(fault) = fault {
        desk.notices.error(fault);
    }
    if let Some(text) = &desk.preferences.panels {
        desk.panes = panes::remembered(text);
    }
    desk.demo = Some(demo);
    desk.files.untitled.folder = Untitled::platform_folder();
    begin(&mut desk, start, demo);
    let mut application =
        Application { desk, keeping, proxy: events.create_proxy(), open: None, failed: None };
    events.run_app(&mut application).map_err(|error| AppError::Window(one_line(&error)))?;
    application.keeping.finish(&application.desk)?;
    application.failed.map_or(Ok(()), Err)
}

/// Work that was left comes before the demo; beside a file it is only spoken of.
fn begin(desk: &mut Desk, start: &Start, demo: Demo) {
    match start {
        Start::Demo => desk.look_for_left(move |desk| {
            if desk.files.untitled.left.is_empty() {
                desk.open_demo(demo);
            }
        }),
        Start::File(path) => {
            desk.open_file(path.clone());
            desk.look_for_left(|desk| {
                if !desk.files.untitled.left.is_empty() {
                    desk.notices
                        .note("There is work that was left without a name: Open has it (Ctrl+O)");
                }
            });
        }
    }
}

fn one_line(error: &impl ToString) -> String {
    error.to_string().replace('\n', " ")
}

/// What the system said, without the place in the library that passed it on (file and line stand before the reason).
fn without_place(told: &str) -> String {
    let reason = told.split_once(".rs:").and_then(|(_, after)| after.split_once(": "));
    reason.map_or(told, |(_, reason)| reason).trim_end_matches('.').to_owned()
}

struct Application {
    desk: Desk,
    keeping: Keeping,
    proxy: EventLoopProxy<Message>,
    /// Declared after the desk: it holds no more than can be made again.
    open: Option<OpenWindow>,
    failed: Option<AppError>,
}

/// What there is once the window is open.
struct OpenWindow {
    window: Arc<Window>,
    context: egui::Context,
    input: egui_winit::State,
    graphics: Graphics,
    repaint_at: Option<Instant>,
    title: String,
    full_screen: bool,
    /// When the window's clock was 0.
    began: Instant,
    pen_clock: Clock,
    /// The pen presses, as far as it told.
    pen_is_down: bool,
}

/// The size of a window that opens for the first time: no larger than the screen.
fn first_size(events: &ActiveEventLoop) -> LogicalSize<f64> {
    let wanted = LogicalSize::new(1440.0, 900.0);
    let screen = events.primary_monitor().or_else(|| events.available_monitors().next());
    let room = screen.map(|screen| screen.size().to_logical::<f64>(screen.scale_factor()));
    room.filter(|room| room.width > 0.0 && room.height > 0.0).map_or(wanted, |room| {
        LogicalSize::new(wanted.width.min(room.width), wanted.height.min(room.height))
    })
}

impl OpenWindow {
    fn open(events: &ActiveEventLoop, proxy: EventLoopProxy<Message>) -> Result<Self, AppError> {
        let attributes = Window::default_attributes()
            .with_title("Scumble")
            .with_inner_size(first_size(events))
            .with_min_inner_size(LogicalSize::new(640.0, 400.0))
            // Shown once screen readers were told of it.
            .with_visible(false);
        let window = events.create_window(attributes);
        let window = Arc::new(window.map_err(|error| AppError::Window(one_line(&error)))?);
        let context = egui::Context::default();
        theme::install(&context);
        let mut input = egui_winit::State::new(
            context.clone(),
            egui::ViewportId::ROOT,
            &*window,
            Some(window.scale_factor() as f32),
            window.theme(),
            None,
        );
        input.init_accesskit(events, &window, proxy.clone());
        let began = Instant::now();
        let listener = proxy.clone();
        Pens::listen(&window, move |news| listener.send_event(Message::Pen(news)).is_ok());
        let graphics = Graphics::new(events, &window)?;
        input.set_max_texture_side(graphics.largest_texture());
        context.set_request_repaint_callback(move |asked| {
            let message =
                Message::Repaint { delay: asked.delay, pass: asked.current_cumulative_pass_nr };
            // Without a window's thread there is nothing to repaint.
            drop(proxy.send_event(message));
        });
        window.set_visible(true);
        window.request_redraw();
        Ok(Self {
            window,
            context,
            input,
            graphics,
            repaint_at: None,
            title: String::new(),
            full_screen: false,
            began,
            pen_clock: Clock::default(),
            pen_is_down: false,
        })
    }

    fn repaint_after(&mut self, delay: Duration) {
        if delay.is_zero() {
            self.window.request_redraw();
        } else if let Some(at) = Instant::now().checked_add(delay) {
            self.repaint_at = Some(self.repaint_at.map_or(at, |known| known.min(at)));
        }
    }

    fn take_pen(&mut self, desk: &mut Desk, news: PenNews) {
        match news {
            PenNews::Report(report) => {
                let now = self.began.elapsed().as_secs_f64();
                let time_secs = self.pen_clock.window_time(report.time_secs, now);
                self.pen_is_down = report.pressure > 0.0;
                let scale = egui_winit::pixels_per_point(&self.context, &self.window);
                desk.hand.samples.push(sample(&report, scale, time_secs, desk));
            }
            // A stroke that went on ends as if the pen were lifted.
            PenNews::Gone if self.pen_is_down => {
                self.pen_is_down = false;
                self.input.egui_input_mut().events.push(egui::Event::PointerGone);
            }
            PenNews::Gone => return,
        }
        self.window.request_redraw();
    }

    /// A touch that tells its force is a pen without tilt.
    fn take_touch(&mut self, desk: &mut Desk, touch: &winit::event::Touch) {
        let Some(force) = touch.force else { return };
        let lifted = matches!(touch.phase, TouchPhase::Ended | TouchPhase::Cancelled);
        let pressure = if lifted { 0.0 } else { force.normalized() };
        let position_px = [touch.location.x, touch.location.y];
        let time_secs = self.began.elapsed().as_secs_f64();
        let report =
            PenReport { position_px, pressure, tilt_rad: [0.0; 2], eraser: false, time_secs };
        let scale = egui_winit::pixels_per_point(&self.context, &self.window);
        desk.hand.samples.push(sample(&report, scale, time_secs, desk));
    }

    /// Makes the window what the desk says of it.
    fn follow(&mut self, desk: &Desk) {
        let title = if desk.title.is_empty() {
            "Scumble".to_owned()
        } else {
            format!("{} \u{2013} Scumble", desk.title)
        };
        if title != self.title {
            self.window.set_title(&title);
            self.title = title;
        }
        if desk.full_screen != self.full_screen {
            self.full_screen = desk.full_screen;
            let wanted = desk.full_screen.then_some(Fullscreen::Borderless(None));
            self.window.set_fullscreen(wanted);
        }
    }
}

fn sample(report: &PenReport, pixels_per_point: f32, time_secs: f64, desk: &Desk) -> HandSample {
    let [x, y] = report.position_px.map(|pixels| pixels as f32 / pixels_per_point);
    HandSample {
        position: egui::pos2(x, y),
        pressure: desk.preferences.felt_pressure(report.pressure as f32),
        tilt_rad: report.tilt_rad.map(|tilt| tilt as f32),
        eraser: report.eraser,
        time_secs,
    }
}

impl ApplicationHandler<Message> for Application {
    fn resumed(&mut self, events: &ActiveEventLoop) {
        if self.open.is_some() {
            return;
        }
        match OpenWindow::open(events, self.proxy.clone()) {
            Ok(open) => self.open = Some(open),
            Err(error) => self.fail(events, error),
        }
    }

    fn new_events(&mut self, _events: &ActiveEventLoop, cause: StartCause) {
        if let (StartCause::ResumeTimeReached { .. }, Some(open)) = (cause, &mut self.open) {
            open.repaint_at = None;
            open.window.request_redraw();
        }
    }

    fn user_event(&mut self, _events: &ActiveEventLoop, message: Message) {
        let Some(open) = &mut self.open else { return };
        match message {
            Message::Repaint { delay, pass } => {
                // What was asked before the last frame was answered by it.
                if open.context.cumulative_pass_nr() <= pass + 1 {
                    open.repaint_after(delay);
                }
            }
            Message::Pen(news) => open.take_pen(&mut self.desk, news),
            Message::Access(event) => {
                match event {
                    accesskit_winit::WindowEvent::InitialTreeRequested => {
                        open.context.enable_accesskit();
                    }
                    accesskit_winit::WindowEvent::ActionRequested(request) => {
                        open.input.on_accesskit_action_request(request);
                    }
                    accesskit_winit::WindowEvent::AccessibilityDeactivated => {
                        open.context.disable_accesskit();
                    }
                }
                open.window.request_redraw();
            }
        }
    }

    fn window_event(&mut self, events: &ActiveEventLoop, _window: WindowId, event: WindowEvent) {
        let Some(open) = &mut self.open else { return };
        if matches!(event, WindowEvent::RedrawRequested) {
            if let Err(error) = open.frame(events, &mut self.desk) {
                self.fail(events, error);
            } else if self.desk.closed {
                events.exit();
            } else if let Some(delay) = self.keeping.follow(&mut self.desk) {
                open.repaint_after(delay);
            }
            return;
        }
        let response = open.input.on_window_event(&open.window, &event);
        match event {
            WindowEvent::CloseRequested => self.desk.close(),
            WindowEvent::Resized(size) => open.graphics.resize([size.width, size.height]),
            WindowEvent::ScaleFactorChanged { .. } => {
                let size = open.window.inner_size();
                open.graphics.resize([size.width, size.height]);
            }
            WindowEvent::Touch(touch) => open.take_touch(&mut self.desk, &touch),
            WindowEvent::Occluded(false) => open.window.request_redraw(),
            _ => {}
        }
        if response.repaint || self.desk.closed {
            open.window.request_redraw();
        }
    }

    fn about_to_wait(&mut self, events: &ActiveEventLoop) {
        let at = self.open.as_ref().and_then(|open| open.repaint_at);
        events.set_control_flow(at.map_or(ControlFlow::Wait, ControlFlow::WaitUntil));
    }
}

impl Application {
    fn fail(&mut self, events: &ActiveEventLoop, error: AppError) {
        self.failed = Some(error);
        events.exit();
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_system_without_a_display_is_told_by_its_reason_alone() {
        let told = "os error at /a/b-0.30/src/mod.rs:765: neither A nor B is set.";
        assert_eq!(without_place(told), "neither A nor B is set");
        assert_eq!(without_place("not supported"), "not supported");
    }
}
