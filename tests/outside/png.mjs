// A plain PNG decoder: 8 or 16 bits a channel, grey or RGB, with or without alpha, not interlaced.

import { readFileSync } from "node:fs";
import { inflateSync } from "node:zlib";

const CHANNELS = { 0: 1, 2: 3, 4: 2, 6: 4 };

/** Gives { width, height, channels, largest, at(x, y, channel) }. */
export function readPng(path) {
  const file = readFileSync(path);
  const data = [];
  let header;
  for (let at = 8; at < file.length; ) {
    const length = file.readUInt32BE(at);
    const name = file.toString("latin1", at + 4, at + 8);
    const body = file.subarray(at + 8, at + 8 + length);
    if (name === "IHDR") header = body;
    if (name === "IDAT") data.push(body);
    at += 12 + length;
  }
  const [width, height] = [header.readUInt32BE(0), header.readUInt32BE(4)];
  const [depth, kind, interlaced] = [header[8], header[9], header[12]];
  if ((depth !== 8 && depth !== 16) || !(kind in CHANNELS) || interlaced) {
    throw new Error(`${path}: not a plain 8 or 16 bit PNG`);
  }
  const channels = CHANNELS[kind];
  const pixel = (channels * depth) / 8;
  const rows = unfilter(inflateSync(Buffer.concat(data)), width * pixel, height, pixel);
  const at = (x, y, channel) => {
    const sample = y * width * channels + x * channels + channel;
    return depth === 8 ? rows[sample] : rows.readUInt16BE(sample * 2);
  };
  return { width, height, channels, largest: 2 ** depth - 1, at };
}

/** PNG (ISO/IEC 15948), 9: each row says how it was predicted from the bytes left, above, and above left. */
function unfilter(raw, stride, height, pixel) {
  const rows = Buffer.alloc(stride * height);
  for (let y = 0; y < height; y++) {
    const filter = raw[y * (stride + 1)];
    for (let x = 0; x < stride; x++) {
      const left = x < pixel ? 0 : rows[y * stride + x - pixel];
      const above = y === 0 ? 0 : rows[(y - 1) * stride + x];
      const corner = y === 0 || x < pixel ? 0 : rows[(y - 1) * stride + x - pixel];
      const predicted = [0, left, above, (left + above) >> 1, paeth(left, above, corner)][filter];
      rows[y * stride + x] = raw[y * (stride + 1) + 1 + x] + predicted;
    }
  }
  return rows;
}

function paeth(left, above, corner) {
  const guess = left + above - corner;
  const [a, b, c] = [left, above, corner].map((value) => Math.abs(guess - value));
  if (a <= b && a <= c) return left;
  return b <= c ? above : corner;
}
