//! What stands between an OBJ file and the library that reads it: one pass over the lines that checks each
//! and hands on what the library reads without falsifying it. The pass has a thread of its own and is a few
//! buffers ahead of the library.
//!
//! The library (`tobj`) names no line in its errors, overflows on wild indices, misplaces everything
//! after a `v` or `vt` that is short of numbers, splits the mesh at each `usemtl`, forgets materials
//! that no MTL file describes, and gives a corner without UV that of the corner before. So it is handed
//! `v vt vn f` lines that were checked here, and this pass keeps the rest by itself: which runs of faces
//! belong to which object, group and material, which corners have no UV or normal, and where in the file
//! each position stood, since the library numbers them by first use. What it is handed is cut into objects
//! of some thousand faces, whose numbering stays in the processor's cache; they are put together again.

use std::io::{self, BufRead, Read};
use std::sync::mpsc::{Receiver, SyncSender};

use raster::Observer;

use crate::error::ExchangeError;
use crate::obj_found::{Found, Used};
use crate::text::{BYTE_ORDER_MARK, UTF16, decode, looks_like_utf16, shown};

/// Where OBJ text comes from: opened once, and a second time where colours turn up late.
pub(crate) type Input<'a> = Box<dyn BufRead + Send + 'a>;

const LONGEST_LINE: u64 = 16 << 20;
const HANDED_ON_AT_ONCE: usize = 64 << 10;
/// How many buffers the pass may be ahead of the library.
pub(crate) const BUFFERS_AHEAD: usize = 4;
/// Corners after which the library is told of a new object: 16,384 triangles.
const CORNERS_AT_ONCE: u64 = 3 << 14;
/// Corners that a mesh may have: their indices are `u32` and their lists must fit in memory.
pub(crate) const MOST_CORNERS: u64 = 1 << 28;
const REMEDY: &str = "correct this line or export the model again";

/// Why the pass ended early.
#[derive(Debug)]
pub(crate) enum Stop {
    /// The file is wrong, or nobody wants it any more.
    Error(ExchangeError),
    /// A colour came after positions without: begin again with `coloured`.
    ColoursCameLate,
}

impl<E: Into<ExchangeError>> From<E> for Stop {
    fn from(error: E) -> Self {
        Self::Error(error.into())
    }
}

/// The pass.
pub(crate) struct ObjScan<'a> {
    file: &'a str,
    observer: &'a dyn Observer,
    total: u64,
    read: u64,
    line: u64,
    physical: Vec<u8>,
    continued: Vec<u8>,
    handed: Vec<u8>,
    coloured: bool,
    found: Found,
}

impl<'a> ObjScan<'a> {
    /// A pass over about `total` bytes. With `coloured`, every position gets a colour.
    pub(crate) fn new(
        file: &'a str,
        total: u64,
        coloured: bool,
        observer: &'a dyn Observer,
    ) -> Self {
        Self {
            file,
            observer,
            total,
            read: 0,
            line: 0,
            physical: Vec::new(),
            continued: Vec::new(),
            handed: Vec::new(),
            coloured,
            found: Found::default(),
        }
    }

    /// Hands on all of `input`, buffer by buffer, and returns what the library is not told. Ends early
    /// where nobody takes the buffers.
    pub(crate) fn run(
        mut self,
        mut input: Input<'_>,
        handed_on: &SyncSender<Vec<u8>>,
    ) -> Result<Found, Stop> {
        loop {
            self.observer.progress(self.read.min(self.total), self.total);
            self.observer.check()?;
            self.handed = Vec::with_capacity(HANDED_ON_AT_ONCE + 1024);
            while self.handed.len() < HANDED_ON_AT_ONCE && self.next_line(&mut input)? {}
            let at_end = self.handed.len() < HANDED_ON_AT_ONCE;
            if handed_on.send(std::mem::take(&mut self.handed)).is_err() || at_end {
                self.found.end_object();
                return Ok(self.found);
            }
        }
    }

    /// Takes one line of the file; false at its end.
    fn next_line(&mut self, input: &mut Input<'_>) -> Result<bool, Stop> {
        // Where it is read whole already it is taken as it lies there; errors come again below.
        let ahead = input.fill_buf().unwrap_or_default();
        if let Some(end) = memchr::memchr(b'\n', ahead) {
            self.line_with_end(&ahead[..=end])?;
            input.consume(end + 1);
            return Ok(true);
        }
        let mut physical = std::mem::take(&mut self.physical);
        physical.clear();
        let read = input.take(LONGEST_LINE).read_until(b'\n', &mut physical).map_err(|source| {
            ExchangeError::Io { file: self.file.to_owned(), doing: "reading", source }
        })?;
        if read == 0 {
            let last = std::mem::take(&mut self.continued);
            self.statement(&last)?;
            return Ok(false);
        }
        self.line_with_end(&physical)?;
        self.physical = physical;
        Ok(true)
    }

    fn line_with_end(&mut self, line: &[u8]) -> Result<(), Stop> {
        if line.len() as u64 >= LONGEST_LINE {
            return self.fail("this line is longer than 16 MiB, so this is no OBJ text");
        }
        let mut text = line;
        if self.read == 0 {
            if looks_like_utf16(text) {
                self.line = 1;
                return self.fail(UTF16);
            }
            text = text.strip_prefix(BYTE_ORDER_MARK).unwrap_or(text);
        }
        self.read += line.len() as u64;
        let text = text.strip_suffix(b"\n").unwrap_or(text);
        let text = text.strip_suffix(b"\r").unwrap_or(text);
        if text.contains(&b'\r') {
            // Lines that end in a carriage return alone.
            text.split(|&byte| byte == b'\r').try_for_each(|part| self.part_of_line(part))
        } else {
            self.part_of_line(text)
        }
    }

    /// Joins lines that end in a backslash; the rest are statements.
    fn part_of_line(&mut self, text: &[u8]) -> Result<(), Stop> {
        self.line += 1;
        if let Some(text) = text.strip_suffix(b"\\") {
            self.continued.extend_from_slice(text);
            self.continued.push(b' ');
            if self.continued.len() as u64 > LONGEST_LINE {
                return self.fail("this line is longer than 16 MiB, so this is no OBJ text");
            }
            return Ok(());
        }
        if self.continued.is_empty() {
            return self.statement(text);
        }
        let mut whole = std::mem::take(&mut self.continued);
        whole.extend_from_slice(text);
        self.statement(&whole)
    }

    fn statement(&mut self, text: &[u8]) -> Result<(), Stop> {
        let text = text.trim_ascii();
        let end = text.iter().position(u8::is_ascii_whitespace).unwrap_or(text.len());
        let (keyword, rest) = text.split_at(end);
        match keyword {
            b"" => Ok(()),
            b"v" => self.position(rest),
            b"vt" => self.uv(rest),
            b"vn" => self.normal(rest),
            b"f" | b"fo" => self.face(rest),
            b"o" => self.name(rest).map(|name| self.found.start_object(name)),
            b"g" => self.name(rest).map(|name| self.found.start_group(name)),
            b"usemtl" => self.name(rest).map(|name| self.found.start_material(name)),
            b"mtllib" => {
                let name = self.name(rest)?;
                self.found.libraries.push((name, self.line));
                Ok(())
            }
            b"l" => {
                self.found.lines += 1;
                Ok(())
            }
            b"p" => {
                self.found.points += 1;
                Ok(())
            }
            b"curv" | b"curv2" | b"surf" => {
                self.found.free_forms += 1;
                Ok(())
            }
            _ if keyword.starts_with(b"#") => Ok(()),
            _ => self.unknown(text),
        }
    }

    /// Keywords that mean nothing here are skipped; what can't be a line of text is refused.
    fn unknown(&mut self, text: &[u8]) -> Result<(), Stop> {
        let binary = |byte: &u8| *byte < 0x20 && !matches!(byte, b'\t' | 0x0C | 0x1A);
        if text.iter().any(binary) {
            return self.fail("this is no text, so this is no OBJ file; export the model again");
        }
        Ok(())
    }

    fn position(&mut self, rest: &[u8]) -> Result<(), Stop> {
        let mut numbers = [&b""[..]; 6];
        let count = self.numbers(rest, &mut numbers)?;
        if count < 3 {
            return self.fail(format!("a position needs 3 numbers, here are {count}; {REMEDY}"));
        }
        if count >= 6 && !self.coloured {
            if self.found.positions.count > 0 {
                return Err(Stop::ColoursCameLate);
            }
            self.coloured = true;
        }
        self.hand_on(b"v", &numbers[..3]);
        if self.coloured && count >= 6 {
            self.hand_on(b"", &numbers[3..]);
        } else if self.coloured {
            self.found.uncoloured += 1;
            self.handed.extend_from_slice(b" 1 1 1");
        }
        self.handed.push(b'\n');
        self.found.positions.count += 1;
        Ok(())
    }

    fn uv(&mut self, rest: &[u8]) -> Result<(), Stop> {
        let mut numbers = [&b""[..]; 2];
        match self.numbers(rest, &mut numbers)? {
            0 => return self.fail(format!("a UV needs 2 numbers, here are none; {REMEDY}")),
            1 => numbers[1] = b"0",
            _ => {}
        }
        self.hand_on(b"vt", &numbers);
        self.handed.push(b'\n');
        self.found.uvs.count += 1;
        Ok(())
    }

    fn normal(&mut self, rest: &[u8]) -> Result<(), Stop> {
        let mut numbers = [&b""[..]; 3];
        let count = self.numbers(rest, &mut numbers)?;
        if count < 3 {
            return self.fail(format!("a normal needs 3 numbers, here are {count}; {REMEDY}"));
        }
        self.hand_on(b"vn", &numbers);
        self.handed.push(b'\n');
        self.found.normals.count += 1;
        Ok(())
    }

    fn face(&mut self, rest: &[u8]) -> Result<(), Stop> {
        let before = self.found.corners;
        let mut end = 0;
        loop {
            end += rest[end..].iter().take_while(|byte| byte.is_ascii_whitespace()).count();
            let left = &rest[end..];
            if left.is_empty() || left.starts_with(b"#") {
                break;
            }
            end += match full_corner(left) {
                Some((indices, length)) if self.found.take_all(indices) => length,
                _ => {
                    let length = left.iter().take_while(|byte| !byte.is_ascii_whitespace()).count();
                    self.corner(&left[..length])?;
                    length
                }
            };
        }
        self.handed.push(b'f');
        self.handed.extend_from_slice(&rest[..end]);
        self.handed.push(b'\n');
        let corners = self.found.corners - before;
        if corners < 3 {
            return self.fail(format!("a face needs 3 corners, this has {corners}; {REMEDY}"));
        }
        if self.found.corners > MOST_CORNERS {
            return self.fail("the model is too large; reduce it or export it in parts");
        }
        self.found.faces += 1;
        if self.found.corners_at_once() >= CORNERS_AT_ONCE {
            self.found.end_object();
            self.handed.extend_from_slice(b"o\n");
        }
        Ok(())
    }

    fn corner(&mut self, token: &[u8]) -> Result<(), Stop> {
        let mut fields = token.split(|&byte| byte == b'/');
        let [position, uv, normal] = [fields.next(), fields.next(), fields.next()];
        if fields.next().is_some() {
            return self.fail(format!("{} has more than two slashes; {REMEDY}", bytes(token)));
        }
        let position = position.unwrap_or_default();
        if position.is_empty() {
            return self.fail(format!("{} names no position; {REMEDY}", bytes(token)));
        }
        self.use_index(position, "position", |found| &mut found.positions)?;
        match uv {
            Some(index) if !index.is_empty() => {
                self.use_index(index, "UV", |found| &mut found.uvs)?;
            }
            _ => self.found.leave_out_uv(),
        }
        match normal {
            Some(index) if !index.is_empty() => {
                self.use_index(index, "normal", |found| &mut found.normals)?;
            }
            _ => self.found.leave_out_normal(),
        }
        self.found.corners += 1;
        Ok(())
    }

    fn use_index(
        &mut self,
        token: &[u8],
        what: &str,
        list: impl Fn(&mut Found) -> &mut Used,
    ) -> Result<(), Stop> {
        let Some(index) = integer(token) else {
            return self.fail(format!("{} is no index; {REMEDY}", bytes(token)));
        };
        let used = list(&mut self.found);
        let count = i64::from(used.count);
        let from_zero = if index < 0 { count + index } else { index - 1 };
        if index == 0 {
            self.fail(format!("this face names {what} 0, but counting begins at 1; {REMEDY}"))
        } else if (0..count).contains(&from_zero) {
            used.take(from_zero as u32);
            Ok(())
        } else {
            self.fail(format!(
                "this face names {what} {index}, but only {count} stand before it; {REMEDY}"
            ))
        }
    }

    /// The first numbers of `rest`, and how many numbers there are: at most one more than fit.
    fn numbers<'t>(&self, rest: &'t [u8], numbers: &mut [&'t [u8]]) -> Result<usize, Stop> {
        let mut count = 0;
        for token in words(rest) {
            let Some(place) = numbers.get_mut(count) else { break };
            if !is_plain_decimal(token) {
                self.check_number(token)?;
            }
            *place = token;
            count += 1;
        }
        Ok(count)
    }

    /// The way for exponents, very long numbers, and what is none.
    fn check_number(&self, token: &[u8]) -> Result<(), Stop> {
        let parsed = std::str::from_utf8(token).ok().and_then(|text| text.parse::<f32>().ok());
        match parsed {
            Some(number) if number.is_finite() => Ok(()),
            Some(_) => self.fail(format!("{} is not a finite number; {REMEDY}", bytes(token))),
            None => self.fail(format!("{} is not a number; {REMEDY}", bytes(token))),
        }
    }

    fn hand_on(&mut self, keyword: &[u8], numbers: &[&[u8]]) {
        self.handed.extend_from_slice(keyword);
        for number in numbers {
            self.handed.push(b' ');
            self.handed.extend_from_slice(number);
        }
    }

    fn name(&mut self, rest: &[u8]) -> Result<String, Stop> {
        self.unknown(rest)?;
        let (name, latin1) = decode(rest.trim_ascii());
        self.found.latin1 |= latin1;
        Ok(name.into_owned())
    }

    fn fail<T>(&self, problem: impl Into<String>) -> Result<T, Stop> {
        Err(Stop::Error(ExchangeError::line(self.file, self.line.max(1), problem)))
    }
}

/// What the pass has handed on, as the library reads it.
pub(crate) struct Handed {
    buffers: Receiver<Vec<u8>>,
    buffer: Vec<u8>,
    taken: usize,
}

impl Handed {
    /// What comes through `buffers`, until nothing more can come.
    pub(crate) fn new(buffers: Receiver<Vec<u8>>) -> Self {
        Self { buffers, buffer: Vec::new(), taken: 0 }
    }
}

impl BufRead for Handed {
    fn fill_buf(&mut self) -> io::Result<&[u8]> {
        if self.taken == self.buffer.len() {
            self.taken = 0;
            self.buffer = self.buffers.recv().unwrap_or_default();
        }
        Ok(&self.buffer[self.taken..])
    }

    fn consume(&mut self, amount: usize) {
        self.taken = (self.taken + amount).min(self.buffer.len());
    }
}

impl Read for Handed {
    fn read(&mut self, into: &mut [u8]) -> io::Result<usize> {
        let read = self.fill_buf()?.read(into)?;
        self.consume(read);
        Ok(read)
    }
}

/// Words up to the end or to a comment.
fn words(text: &[u8]) -> impl Iterator<Item = &[u8]> {
    text.split(u8::is_ascii_whitespace)
        .filter(|word| !word.is_empty())
        .take_while(|word| !word.starts_with(b"#"))
}

/// The indices of a corner that names position, UV and normal by plain numbers from 1, and its length. All
/// else takes the longer way.
fn full_corner(text: &[u8]) -> Option<([u32; 3], usize)> {
    let (mut indices, mut end) = ([0u32; 3], 0);
    for (place, index) in indices.iter_mut().enumerate() {
        if place > 0 {
            if text.get(end) != Some(&b'/') {
                return None;
            }
            end += 1;
        }
        let start = end;
        while let Some(digit) =
            text.get(end).map(|byte| byte.wrapping_sub(b'0')).filter(|&d| d < 10)
        {
            *index = index.wrapping_mul(10).wrapping_add(u32::from(digit));
            end += 1;
        }
        // Nine digits always fit.
        if end - start > 9 {
            return None;
        }
        *index = index.checked_sub(1)?;
    }
    text.get(end).is_none_or(u8::is_ascii_whitespace).then_some((indices, end))
}

/// True for an optional sign, up to 30 digits, and at most one point: always a finite `f32`.
fn is_plain_decimal(token: &[u8]) -> bool {
    let unsigned = token.strip_prefix(b"-").unwrap_or(token);
    let (mut points, mut digits) = (0, 0);
    for byte in unsigned {
        match byte {
            b'.' => points += 1,
            b'0'..=b'9' => digits += 1,
            _ => return false,
        }
    }
    points <= 1 && (1..=30).contains(&digits)
}

fn integer(token: &[u8]) -> Option<i64> {
    let (negative, digits) = match token.split_first() {
        Some((b'-', digits)) => (true, digits),
        Some((b'+', digits)) => (false, digits),
        _ => (false, token),
    };
    if digits.is_empty() || digits.len() > 18 {
        return None;
    }
    let mut value = 0i64;
    for digit in digits {
        value = value * 10 + i64::from(digit.checked_sub(b'0').filter(|digit| *digit < 10)?);
    }
    Some(if negative { -value } else { value })
}

fn bytes(token: &[u8]) -> String {
    shown(&decode(token).0)
}
