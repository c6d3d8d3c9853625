//! The graphics adapter: what draws, and how much it can hold.

use std::fmt::{self, Display};
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, Mutex, PoisonError};

use crate::ViewportError;

/// Largest picture or texture edge that is asked of an adapter.
const LARGEST_EDGE: u32 = 16_384;
/// Largest buffer that is asked of an adapter.
const LARGEST_BUFFER: u64 = 4 << 30;

/// A graphics adapter and the connection to it. Cheap to clone: all clones are one connection.
#[derive(Debug, Clone)]
pub struct Gpu {
    adapter: wgpu::Adapter,
    device: wgpu::Device,
    queue: wgpu::Queue,
    info: wgpu::AdapterInfo,
    samples: u32,
    state: Arc<State>,
}

#[derive(Debug, Default)]
struct State {
    lost: AtomicBool,
    fault: Mutex<Option<String>>,
}

impl Gpu {
    /// The best adapter of this machine, for pictures that no window shows.
    ///
    /// # Errors
    /// [`ViewportError::NoAdapter`] where there is none, [`ViewportError::Unusable`] where it lacks something.
    pub fn headless() -> Result<Self, ViewportError> {
        let instance =
            wgpu::Instance::new(wgpu::InstanceDescriptor::new_without_display_handle_from_env());
        Self::chosen(&instance, None)
    }

    /// An adapter that draws nothing, whatever it is asked: with it can be measured what the program itself spends.
    ///
    /// # Errors
    /// As [`Gpu::headless`].
    pub fn idle() -> Result<Self, ViewportError> {
        let mut descriptor = wgpu::InstanceDescriptor::new_without_display_handle();
        descriptor.backends = wgpu::Backends::NOOP;
        descriptor.backend_options.noop = wgpu::NoopBackendOptions::enabled();
        Self::chosen(&wgpu::Instance::new(descriptor), None)
    }

    /// The best adapter that can show pictures on a window's surface.
    ///
    /// # Errors
    /// As [`Gpu::headless`].
    pub fn for_surface(
        instance: &wgpu::Instance,
        surface: &wgpu::Surface<'_>,
    ) -> Result<Self, ViewportError> {
        Self::chosen(instance, Some(surface))
    }

    fn chosen(
        instance: &wgpu::Instance,
        surface: Option<&wgpu::Surface<'_>>,
    ) -> Result<Self, ViewportError> {
        let options = wgpu::RequestAdapterOptions {
            power_preference: wgpu::PowerPreference::HighPerformance,
            compatible_surface: surface,
            ..wgpu::RequestAdapterOptions::default()
        };
        let adapter = pollster::block_on(instance.request_adapter(&options))
            .map_err(|_none| ViewportError::NoAdapter)?;
        let info = adapter.get_info();
        let unusable = |reason: String| ViewportError::Unusable {
            adapter: info.name.clone(),
            reason: reason.replace('\n', " "),
        };
        let descriptor = wgpu::DeviceDescriptor {
            label: Some("scumble"),
            required_limits: wanted_limits(&adapter.limits()),
            ..wgpu::DeviceDescriptor::default()
        };
        let (device, queue) = pollster::block_on(adapter.request_device(&descriptor))
            .map_err(|error| unusable(error.to_string()))?;
        let state = Arc::new(State::default());
        let told = Arc::clone(&state);
        device.set_device_lost_callback(move |_reason, _message| {
            told.lost.store(true, Ordering::Release);
        });
        let told = Arc::clone(&state);
        device.on_uncaptured_error(Arc::new(move |error: wgpu::Error| {
            let mut fault = told.fault.lock().unwrap_or_else(PoisonError::into_inner);
            fault.get_or_insert_with(|| error.to_string().replace('\n', " "));
        }));
        let samples = if info.device_type == wgpu::DeviceType::Cpu { 1 } else { 4 };
        Ok(Self { adapter, device, queue, info, samples, state })
    }

    /// The same connection, with targets made from now on smoothed by so many samples a pixel: 1 or 4.
    pub fn with_samples(mut self, samples: u32) -> Self {
        self.samples = if samples > 1 { 4 } else { 1 };
        self
    }

    /// Samples a pixel: 4 on a graphics card, 1 where the processor draws.
    pub fn samples(&self) -> u32 {
        self.samples
    }

    /// True where the processor draws.
    pub fn is_cpu(&self) -> bool {
        self.info.device_type == wgpu::DeviceType::Cpu
    }

    /// What the adapter is called.
    pub fn name(&self) -> &str {
        &self.info.name
    }

    /// Most texels a side that a texture may have.
    pub fn largest_texture(&self) -> u32 {
        self.device.limits().max_texture_dimension_2d
    }

    /// True once the connection is gone: what was uploaded must be uploaded again to a new one.
    pub fn is_lost(&self) -> bool {
        self.state.lost.load(Ordering::Acquire)
    }

    /// What the adapter complained of first since this was last asked: out of memory, most likely.
    pub fn take_fault(&self) -> Option<String> {
        self.state.fault.lock().unwrap_or_else(PoisonError::into_inner).take()
    }

    /// The adapter, for who configures a surface.
    pub fn adapter(&self) -> &wgpu::Adapter {
        &self.adapter
    }

    /// The device, for who draws beside us.
    pub fn device(&self) -> &wgpu::Device {
        &self.device
    }

    /// The queue, for who draws beside us.
    pub fn queue(&self) -> &wgpu::Queue {
        &self.queue
    }

    /// Waits until all that was asked for is drawn.
    ///
    /// # Errors
    /// [`ViewportError::Readback`] when the adapter doesn't answer.
    pub fn wait(&self) -> Result<(), ViewportError> {
        self.device
            .poll(wgpu::PollType::wait_indefinitely())
            .map(|_status| ())
            .map_err(|error| ViewportError::Readback(error.to_string()))
    }
}

impl Display for Gpu {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{} ({:?})", self.info.name, self.info.backend)
    }
}

/// All that is used, and of what has a size as much as the adapter offers.
fn wanted_limits(offered: &wgpu::Limits) -> wgpu::Limits {
    let buffer = offered.max_buffer_size.min(LARGEST_BUFFER);
    wgpu::Limits {
        max_texture_dimension_2d: offered.max_texture_dimension_2d.min(LARGEST_EDGE),
        max_buffer_size: buffer,
        max_storage_buffer_binding_size: offered.max_storage_buffer_binding_size.min(buffer),
        ..wgpu::Limits::downlevel_defaults()
    }
}
