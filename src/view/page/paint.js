// Pictures onto canvases, one question at a time and never a stale one.

import { picture } from './api.js';

const LOST_DARK = 254, LOST_LIGHT = 253;

// Lost tones are striped, not coloured: rising to the right where darks, falling where lights.
function stripe(bytes, width, height) {
  for (let y = 0, i = 0; y < height; y++)
    for (let x = 0; x < width; x++, i += 4) {
      const mark = bytes[i + 3];
      if (mark !== LOST_DARK && mark !== LOST_LIGHT) continue;
      const on = (mark === LOST_DARK ? x + y : x - y + height) % 8 < 3;
      if (on) bytes[i] = bytes[i + 1] = bytes[i + 2] = mark === LOST_DARK ? 255 : 0;
    }
}

export function paint(canvas, shown, lost = false) {
  const { width, height } = shown;
  const bytes = shown.bytes.slice();
  if (lost) stripe(bytes, width, height);
  for (let i = 3; i < bytes.length; i += 4) bytes[i] = 255;
  canvas.width = width;
  canvas.height = height;
  canvas.getContext('2d', { colorSpace: 'srgb' }).putImageData(new ImageData(bytes, width, height), 0, 0);
}

// A row of pictures to be shown: begin() drops what an earlier round still waits for.
export class Round {
  #stop = null;

  begin() {
    this.#stop?.abort();
    this.#stop = new AbortController();
    return this.#stop.signal;
  }

  // wanted: [{canvas, what, question, done}], in the order they matter. Ends early, and silently,
  // when another round begins.
  async show(wanted, lost = () => false) {
    const signal = this.begin();
    try {
      for (const { canvas, what = 'picture', question, done } of wanted) {
        const shown = await picture(what, question, signal);
        if (signal.aborted) return false;
        canvas.shown = shown;
        paint(canvas, shown, lost());
        done?.(shown);
      }
    } catch (error) {
      if (error.name === 'AbortError') return false;
      throw error;
    }
    return true;
  }
}
