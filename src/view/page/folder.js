// The contact sheet of all scans: pick one, mark some, give them these choices.

import { tell } from './api.js';
import { Round } from './paint.js';
import { forOthers, onChange, open, state } from './state.js';

const MOST = 300;
const list = document.getElementById('scans');
const round = new Round();
let items = [];

const isShown = () => !document.getElementById('folder').hidden;
const marked = () => items.filter((item) => item.mark.checked).map((item) => item.scan);

function build(guard, go) {
  items = state.scans.map(({ name }, scan) => {
    const row = document.createElement('li'), button = document.createElement('button');
    const label = document.createElement('label'), mark = document.createElement('input');
    const canvas = document.createElement('canvas');
    canvas.width = canvas.height = 150;
    button.type = 'button';
    button.append(canvas);
    button.setAttribute('aria-label', `Open ${name}`);
    button.addEventListener('click', guard(async () => { await open(scan); go('ring'); }));
    mark.type = 'checkbox';
    label.append(mark, ` ${name}`);
    row.append(button, label);
    return { scan, row, mark, canvas, shown: false };
  });
  list.replaceChildren(...items.map((item) => item.row));
}

// Each under its own choices, or those at the start.
export async function draw() {
  if (!isShown()) return;
  items.forEach((item) => item.row.classList.toggle('here', item.scan === state.scan));
  for (const item of items.filter((one) => !one.shown)) {
    let choices;
    try {
      ({ choices } = await tell('sheet', { scan: item.scan }));
      item.shown = await round.show([{ canvas: item.canvas, question: { scan: item.scan, most: MOST, choices } }]);
    } catch (error) {
      item.shown = true; // one bad file does not stop the others
      item.row.append(error.message);
    }
    if (!isShown()) return;
  }
}

async function give() {
  const choices = forOthers();
  for (const scan of marked()) {
    const { sheets } = await tell('sheet', { scan });
    for (let sheet = 0; sheet < sheets; sheet++) await tell('choose', { scan, sheet, choices });
    items[scan].shown = false;
  }
  await draw();
}

export function start(guard, go, make) {
  build(guard, go);
  const all = (on) => () => items.forEach((item) => { item.mark.checked = on; });
  document.getElementById('mark-all').addEventListener('click', all(true));
  document.getElementById('mark-none').addEventListener('click', all(false));
  document.getElementById('give').addEventListener('click', guard(give));
  document.getElementById('make-marked').addEventListener('click', guard(() => make({ scans: marked() })));
  onChange((why) => {
    if (why === 'chosen' || why === 'measured') items[state.scan].shown = false;
  });
}
