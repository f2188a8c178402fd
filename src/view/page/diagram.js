// The tone reproduction diagram in four quadrants (L. A. Jones, 1920). From the lower right,
// clockwise: the sheet takes the scene's light as density; the separation finds the amount again;
// the tone lays it on the palette; the print stands above the scene it came from.

import { tell } from './api.js';
import { question } from './state.js';

const svg = document.getElementById('diagram'), words = document.getElementById('diagram-words');
const NS = 'http://www.w3.org/2000/svg', M = 210, EDGE = 26;
let asked = null;

function put(name, attributes, text) {
  const node = document.createElementNS(NS, name);
  for (const [key, value] of Object.entries(attributes)) node.setAttribute(key, value);
  if (text !== undefined) node.textContent = text;
  svg.append(node);
  return node;
}

// Places on the four half axes, from the middle outwards.
function scales(c) {
  const span = c.light[c.light.length - 1] - c.light[0], deepest = Math.max(...c.density, 0.05) * 1.05;
  const out = M - EDGE;
  return {
    right: (stops) => M + ((stops - c.light[0]) / span) * out,
    left: (stops) => M - ((Math.max(stops, c.light[0]) - c.light[0]) / span) * out,
    up: (lightness) => M - (lightness / 100) * out,
    down: (density) => M + (density / deepest) * out,
    deepest,
  };
}

const line = (points) => points.filter(([x, y]) => Number.isFinite(x) && Number.isFinite(y))
  .map(([x, y]) => `${x.toFixed(1)},${y.toFixed(1)}`).join(' ');

function frame(s) {
  const defs = put('defs', {});
  defs.innerHTML = '<pattern id="hatch" width="5" height="5" patternUnits="userSpaceOnUse">' +
    '<path d="M0 5L5 0" stroke="#000" stroke-width="0.8"/></pattern>';
  put('line', { class: 'axis', x1: EDGE, y1: M, x2: 2 * M - EDGE, y2: M });
  put('line', { class: 'axis', x1: M, y1: EDGE, x2: M, y2: 2 * M - EDGE });
  put('text', { x: 2 * M - EDGE, y: M - 5, 'text-anchor': 'end' }, 'light in the scene');
  put('text', { x: EDGE, y: M - 5 }, 'light found');
  put('text', { x: M + 5, y: EDGE + 4 }, 'L* of the print');
  put('text', { x: M + 5, y: 2 * M - EDGE - 2 }, `density ${s.deepest.toFixed(2)}`);
  for (const [x, y, text] of [[2 * M - EDGE, 2 * M - 8, 'sheet'], [EDGE + 56, 2 * M - 8, 'separation'],
    [EDGE + 26, 16, 'tone'], [2 * M - EDGE, 16, 'print']])
    put('text', { x, y, 'text-anchor': 'end', 'font-weight': 600 }, text);
}

function marks(c, s) {
  const from = s.right(Math.max(c.dark ?? c.light[0], c.light[0])), to = s.right(c.light_tones);
  put('rect', { class: 'range', x: from, y: EDGE, width: Math.max(to - from, 1), height: 2 * (M - EDGE) });
  if (c.grain !== null && c.grain > c.light[0])
    put('line', { class: 'grain', x1: s.right(c.grain), y1: EDGE, x2: s.right(c.grain), y2: 2 * M - EDGE });
  if (c.fog_density > 0)
    put('rect', { class: 'fog', x: EDGE, y: M, width: 2 * (M - EDGE),
      height: Math.min(s.down(c.fog_density) - M, M - EDGE) });
}

// One tone followed all the way round: the print's middle.
function trace(c, s) {
  const i = c.light.reduce((best, stops, k) => Math.abs(stops) < Math.abs(c.light[best]) ? k : best, 0);
  const x = s.right(c.light[i]), d = s.down(c.density[i]), a = s.left(c.amount[i]), y = s.up(c.lightness[i]);
  put('polygon', { class: 'trace', points: line([[x, d], [a, d], [a, y], [x, y]]) });
}

function draw(c) {
  const s = scales(c);
  svg.replaceChildren();
  frame(s);
  marks(c, s);
  const all = [
    c.light.map((stops, i) => [s.right(stops), s.down(c.density[i])]),
    c.density.map((density, i) => [s.left(c.amount[i] ?? c.light[0]), s.down(density)]),
    c.lightness.map((lightness, i) => [s.left(c.amount[i] ?? c.light[0]), s.up(lightness)]),
    c.lightness.map((lightness, i) => [s.right(c.light[i]), s.up(lightness)]),
  ];
  for (const points of all) put('polyline', { class: 'curve', points: line(points) });
  trace(c, s);
  const range = (c.light_tones - (c.dark ?? c.light[0])).toFixed(1);
  words.textContent = `Grade ${c.grade.toFixed(1)}. The sheet's tones span ${range} stops (light band); ` +
    `fog ${c.fog_density?.toFixed(2) ?? 'unknown'} (hatched); its grain (dotted). White: the middle tone all the way round.`;
}

export async function show(then) {
  asked?.abort();
  asked = new AbortController();
  const { signal } = asked;
  let curves;
  try {
    curves = await tell('curves', question(), signal);
  } catch (error) {
    if (error.name === 'AbortError') return;
    throw error;
  }
  if (signal.aborted) return;
  draw(curves);
  then(curves);
}
