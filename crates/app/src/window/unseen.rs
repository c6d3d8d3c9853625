//! A window that nobody sees: all of a frame but the window system, so that it can be measured.

use std::collections::BTreeMap;
use std::time::{Duration, Instant};

use editor::Editor;
use egui::{Event, Modifiers, PointerButton, Pos2, RawInput, Rect, Theme, vec2};
use egui_wgpu::ScreenDescriptor;
use layers::LayerId;
use viewport::Gpu;

use super::pictures::Pictures;
use crate::desk::Desk;
use crate::error::AppError;
use crate::preferences::Preferences;
use crate::{screen, theme};

/// What the program itself spent on a frame.
#[derive(Debug, Clone, Copy)]
pub struct Spent {
    /// From the pointer's events to the last submission to the adapter; what that does with it is not in it.
    pub time: Duration,
    /// Bytes of textures that went up.
    pub uploaded_bytes: u64,
}

/// See the module.
pub struct Unseen {
    desk: Desk,
    context: egui::Context,
    gpu: Gpu,
    panels: egui_wgpu::Renderer,
    pictures: Pictures,
    ground: wgpu::TextureView,
    size: [u32; 2],
    time_secs: f64,
    /// The pictures don't show all yet.
    is_more: bool,
}

impl std::fmt::Debug for Unseen {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Unseen").field("size", &self.size).finish_non_exhaustive()
    }
}

impl Unseen {
    /// A window of a size in pixels on an open document, drawn by `gpu`, with preferences as they are at first.
    ///
    /// # Errors
    /// [`AppError::Viewport`] where that can't draw it.
    pub fn open(editor: Editor, size: [u32; 2], gpu: Gpu) -> Result<Self, AppError> {
        const FORMAT: wgpu::TextureFormat = wgpu::TextureFormat::Rgba8Unorm;
        let preferences = Preferences { knows_first_steps: true, ..Preferences::default() };
        let mut desk = Desk::new(preferences)?;
        desk.replace_editor(editor);
        desk.mesh_number += 1;
        let options = egui_wgpu::RendererOptions::default();
        let mut panels = egui_wgpu::Renderer::new(gpu.device(), FORMAT, options);
        let pictures = Pictures::new(&gpu, &mut panels)?;
        let [width, height] = size;
        let ground = gpu.device().create_texture(&wgpu::TextureDescriptor {
            label: Some("window"),
            size: wgpu::Extent3d { width, height, depth_or_array_layers: 1 },
            mip_level_count: 1,
            sample_count: 1,
            dimension: wgpu::TextureDimension::D2,
            format: FORMAT,
            usage: wgpu::TextureUsages::RENDER_ATTACHMENT,
            view_formats: &[],
        });
        let ground = ground.create_view(&wgpu::TextureViewDescriptor::default());
        let context = egui::Context::default();
        theme::install(&context);
        Ok(Self {
            desk,
            context,
            gpu,
            panels,
            pictures,
            ground,
            size,
            time_secs: 0.0,
            is_more: true,
        })
    }

    /// The middle of the model view, in points of the window.
    pub fn model_middle(&self) -> Pos2 {
        self.desk.model_view.rect.center()
    }

    /// The brush's radius, in points.
    pub fn set_brush_radius(&mut self, points: f64) {
        self.desk.brush.radius_points = points;
    }

    /// Whether the pen paints just now.
    pub fn is_painting(&self) -> bool {
        self.desk.stroke.is_some()
    }

    /// The layer that is painted.
    pub fn choose_layer(&mut self, layer: LayerId) {
        self.desk.chosen.layer = Some(layer);
    }

    /// The adapter's name.
    pub fn adapter(&self) -> &str {
        self.gpu.name()
    }

    /// Long work goes on beside the window, or not all is shown yet.
    pub fn is_busy(&self) -> bool {
        self.is_more || !self.desk.tasks.is_empty() || self.desk.is_trying()
    }

    /// The pen comes down, or is lifted.
    ///
    /// # Errors
    /// [`AppError::Viewport`] where the adapter was lost.
    pub fn press(&mut self, at: Pos2, pressed: bool) -> Result<Spent, AppError> {
        let (button, modifiers) = (PointerButton::Primary, Modifiers::NONE);
        self.frame(vec![Event::PointerButton { pos: at, button, pressed, modifiers }])
    }

    /// Nothing comes in.
    ///
    /// # Errors
    /// [`AppError::Viewport`] where the adapter was lost.
    pub fn rest(&mut self) -> Result<Spent, AppError> {
        self.frame(Vec::new())
    }

    /// The pen moves.
    ///
    /// # Errors
    /// [`AppError::Viewport`] where the adapter was lost.
    pub fn hover(&mut self, at: Pos2) -> Result<Spent, AppError> {
        self.frame(vec![Event::PointerMoved(at)])
    }

    /// One frame, with what came in since the last.
    fn frame(&mut self, events: Vec<Event>) -> Result<Spent, AppError> {
        let [width, height] = self.size.map(|edge| edge as f32);
        self.time_secs += 1.0 / 60.0;
        let input = RawInput {
            screen_rect: Some(Rect::from_min_size(Pos2::ZERO, vec2(width, height))),
            time: Some(self.time_secs),
            events,
            ..RawInput::default()
        };
        let before = self.pictures.uploaded_bytes();
        let began = Instant::now();
        let Self { desk, context, gpu, panels, pictures, is_more, .. } = self;
        desk.pictures = pictures.shown();
        let mut output = context.run_ui(input, |ui| screen::show(ui, desk));
        let new: BTreeMap<_, _> = output.textures_delta.set.drain().collect();
        for (id, parts) in new {
            for part in parts {
                panels.update_texture(gpu.device(), gpu.queue(), id, &part);
            }
        }
        match pictures.draw(gpu, panels, desk, Theme::Dark) {
            Ok(more) => *is_more = more,
            Err(error) => desk.notices.error(error),
        }
        let shapes = context.tessellate(output.shapes, output.pixels_per_point);
        self.paint(&shapes, output.pixels_per_point);
        let time = began.elapsed();
        // What the adapter does with it must not weigh on the next frame.
        self.gpu.wait()?;
        Ok(Spent { time, uploaded_bytes: self.pictures.uploaded_bytes() - before })
    }

    fn paint(&mut self, shapes: &[egui::ClippedPrimitive], pixels_per_point: f32) {
        let (device, queue) = (self.gpu.device(), self.gpu.queue());
        let screen = ScreenDescriptor { size_in_pixels: self.size, pixels_per_point };
        let mut encoder = device.create_command_encoder(&wgpu::CommandEncoderDescriptor::default());
        let first = self.panels.update_buffers(device, queue, &mut encoder, shapes, &screen);
        let pass = encoder.begin_render_pass(&wgpu::RenderPassDescriptor {
            label: Some("panels"),
            color_attachments: &[Some(wgpu::RenderPassColorAttachment {
                view: &self.ground,
                resolve_target: None,
                depth_slice: None,
                ops: wgpu::Operations {
                    load: wgpu::LoadOp::Clear(wgpu::Color::BLACK),
                    store: wgpu::StoreOp::Store,
                },
            })],
            ..wgpu::RenderPassDescriptor::default()
        });
        let mut pass = pass.forget_lifetime();
        self.panels.render(&mut pass, shapes, &screen);
        drop(pass);
        queue.submit(first.into_iter().chain([encoder.finish()]));
    }
}
