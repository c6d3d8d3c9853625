//! What the window has on the graphics adapter: its surface, the panels' painter, and the views' pictures.

use std::sync::Arc;

use egui::{ClippedPrimitive, Color32, TextureId, TexturesDelta, Theme};
use egui_wgpu::ScreenDescriptor;
use viewport::{Gpu, ViewportError};
use wgpu::CurrentSurfaceTexture;
use winit::event_loop::ActiveEventLoop;
use winit::window::Window;

use super::kept_textures::KeptTextures;
use super::pictures::Pictures;
use crate::desk::{self, Desk};
use crate::error::AppError;

/// See the module.
pub(super) struct Graphics {
    gpu: Gpu,
    instance: wgpu::Instance,
    surface: wgpu::Surface<'static>,
    shape: wgpu::SurfaceConfiguration,
    /// False until the surface has the shape that is wanted.
    is_shaped: bool,
    panels: egui_wgpu::Renderer,
    textures: KeptTextures,
    /// Textures that were shown last in the frame before the next one.
    freed: Vec<TextureId>,
    pictures: Pictures,
}

impl Graphics {
    /// Connects a window with the best adapter that can show it.
    ///
    /// # Errors
    /// [`AppError::Viewport`] where there is no adapter, [`AppError::Window`] where the window can't be drawn on.
    pub(super) fn new(events: &ActiveEventLoop, window: &Arc<Window>) -> Result<Self, AppError> {
        let (instance, surface, gpu) = connect(events, window)?;
        let shape = shape_of(&surface, &gpu, window)?;
        let (panels, pictures) = painters(&gpu, shape.format)?;
        Ok(Self {
            gpu,
            instance,
            surface,
            shape,
            is_shaped: false,
            panels,
            textures: KeptTextures::default(),
            freed: Vec::new(),
            pictures,
        })
    }

    /// Connects again after the adapter was lost: everything on it is made again from the desk.
    ///
    /// # Errors
    /// As [`Graphics::new`].
    pub(super) fn make_anew(
        &mut self,
        events: &ActiveEventLoop,
        window: &Arc<Window>,
    ) -> Result<(), AppError> {
        let (instance, surface, gpu) = connect(events, window)?;
        self.shape = shape_of(&surface, &gpu, window)?;
        (self.panels, self.pictures) = painters(&gpu, self.shape.format)?;
        (self.instance, self.surface, self.gpu) = (instance, surface, gpu);
        self.is_shaped = false;
        self.freed.clear();
        for (id, texture) in self.textures.all() {
            self.panels.update_texture(self.gpu.device(), self.gpu.queue(), id, texture);
        }
        Ok(())
    }

    /// True once nothing that is drawn arrives any more.
    pub(super) fn is_lost(&self) -> bool {
        self.gpu.is_lost()
    }

    /// What the adapter complained of.
    pub(super) fn take_fault(&self) -> Option<String> {
        self.gpu.take_fault()
    }

    /// Most texels a side that a texture may have.
    pub(super) fn largest_texture(&self) -> usize {
        self.gpu.largest_texture() as usize
    }

    /// The window has another size in pixels; without width or height it shows nothing.
    pub(super) fn resize(&mut self, [width, height]: [u32; 2]) {
        let most = self.gpu.largest_texture();
        (self.shape.width, self.shape.height) = (width.min(most), height.min(most));
        self.is_shaped = false;
    }

    /// The pictures that panels may show.
    pub(super) fn shown_pictures(&self) -> desk::Pictures {
        self.pictures.shown()
    }

    /// Takes what changed in the panels' textures.
    pub(super) fn take_textures(&mut self, mut changes: TexturesDelta) {
        let mut changed: Vec<_> = changes.set.drain().collect();
        changed.sort_by_key(|(id, _)| *id);
        for (id, parts) in changed {
            for part in parts {
                self.textures.follow(id, &part);
                self.panels.update_texture(self.gpu.device(), self.gpu.queue(), id, &part);
            }
        }
        self.freed.extend(changes.free.drain());
    }

    /// Draws what the views show, where it is not what they showed before.
    pub(super) fn draw_pictures(&mut self, desk: &mut Desk, theme: Theme) -> bool {
        let drawn = self.pictures.draw(&self.gpu, &mut self.panels, desk, theme);
        drawn.unwrap_or_else(|error| {
            desk.notices.error(error);
            false
        })
    }

    /// Paints the panels and shows the frame. False where it could not be shown now but can soon.
    pub(super) fn paint(
        &mut self,
        window: &Arc<Window>,
        panels: &[ClippedPrimitive],
        pixels_per_point: f32,
        ground: Color32,
    ) -> Result<bool, AppError> {
        let [width, height] = [self.shape.width, self.shape.height];
        if width == 0 || height == 0 {
            return Ok(true);
        }
        if !self.is_shaped {
            self.surface.configure(self.gpu.device(), &self.shape);
            self.is_shaped = true;
        }
        let frame = match self.surface.get_current_texture() {
            CurrentSurfaceTexture::Success(frame) => frame,
            CurrentSurfaceTexture::Suboptimal(frame) => {
                self.is_shaped = false;
                frame
            }
            CurrentSurfaceTexture::Occluded => return Ok(true),
            CurrentSurfaceTexture::Timeout => return Ok(false),
            CurrentSurfaceTexture::Outdated | CurrentSurfaceTexture::Validation => {
                let size = window.inner_size();
                self.resize([size.width, size.height]);
                return Ok(false);
            }
            CurrentSurfaceTexture::Lost => {
                self.surface = surface_of(&self.instance, window)?;
                self.is_shaped = false;
                return Ok(false);
            }
        };
        let screen = ScreenDescriptor { size_in_pixels: [width, height], pixels_per_point };
        let view = frame.texture.create_view(&wgpu::TextureViewDescriptor::default());
        self.encode(&view, panels, &screen, ground);
        window.pre_present_notify();
        self.gpu.queue().present(frame);
        for id in self.freed.drain(..) {
            self.textures.forget(id);
            self.panels.free_texture(&id);
        }
        Ok(true)
    }

    fn encode(
        &mut self,
        view: &wgpu::TextureView,
        panels: &[ClippedPrimitive],
        screen: &ScreenDescriptor,
        ground: Color32,
    ) {
        let (device, queue) = (self.gpu.device(), self.gpu.queue());
        let mut encoder = device.create_command_encoder(&wgpu::CommandEncoderDescriptor::default());
        let before = self.panels.update_buffers(device, queue, &mut encoder, panels, screen);
        let [r, g, b, _] = ground.to_normalized_gamma_f32().map(f64::from);
        let pass = encoder.begin_render_pass(&wgpu::RenderPassDescriptor {
            label: Some("panels"),
            color_attachments: &[Some(wgpu::RenderPassColorAttachment {
                view,
                resolve_target: None,
                depth_slice: None,
                ops: wgpu::Operations {
                    load: wgpu::LoadOp::Clear(wgpu::Color { r, g, b, a: 1.0 }),
                    store: wgpu::StoreOp::Store,
                },
            })],
            ..wgpu::RenderPassDescriptor::default()
        });
        let mut pass = pass.forget_lifetime();
        self.panels.render(&mut pass, panels, screen);
        drop(pass);
        queue.submit(before.into_iter().chain([encoder.finish()]));
    }
}

fn surface_of(
    instance: &wgpu::Instance,
    window: &Arc<Window>,
) -> Result<wgpu::Surface<'static>, AppError> {
    let made = instance.create_surface(Arc::clone(window));
    made.map_err(|error| AppError::Window(error.to_string().replace('\n', " ")))
}

fn connect(
    events: &ActiveEventLoop,
    window: &Arc<Window>,
) -> Result<(wgpu::Instance, wgpu::Surface<'static>, Gpu), AppError> {
    let display = Box::new(events.owned_display_handle());
    let instance =
        wgpu::Instance::new(wgpu::InstanceDescriptor::new_with_display_handle_from_env(display));
    // Without any backend there is no surface either.
    let surface = surface_of(&instance, window).map_err(|_none| ViewportError::NoAdapter)?;
    let gpu = Gpu::for_surface(&instance, &surface)?;
    Ok((instance, surface, gpu))
}

fn shape_of(
    surface: &wgpu::Surface<'_>,
    gpu: &Gpu,
    window: &Window,
) -> Result<wgpu::SurfaceConfiguration, AppError> {
    let size = window.inner_size();
    let unusable = |reason: &str| {
        let adapter = gpu.name().to_owned();
        AppError::Viewport(ViewportError::Unusable { adapter, reason: reason.to_owned() })
    };
    let most = gpu.largest_texture();
    let shape =
        surface.get_default_config(gpu.adapter(), size.width.min(most), size.height.min(most));
    let mut shape = shape.ok_or_else(|| unusable("it can't show anything in this window"))?;
    let offered = surface.get_capabilities(gpu.adapter());
    shape.format = egui_wgpu::preferred_framebuffer_format(&offered.formats)
        .map_err(|error| unusable(&error.to_string()))?;
    // The newest frame is what counts, not each one.
    shape.present_mode = if offered.present_modes.contains(&wgpu::PresentMode::Mailbox) {
        wgpu::PresentMode::Mailbox
    } else {
        wgpu::PresentMode::Fifo
    };
    shape.desired_maximum_frame_latency = 1;
    Ok(shape)
}

fn painters(
    gpu: &Gpu,
    format: wgpu::TextureFormat,
) -> Result<(egui_wgpu::Renderer, Pictures), AppError> {
    let options = egui_wgpu::RendererOptions { dithering: false, ..Default::default() };
    let mut panels = egui_wgpu::Renderer::new(gpu.device(), format, options);
    let pictures = Pictures::new(gpu, &mut panels)?;
    Ok((panels, pictures))
}
