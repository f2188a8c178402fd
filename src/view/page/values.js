// Every choice typed in the command's own words.

import { tell } from './api.js';
import { choose, onChange, state } from './state.js';

const form = document.getElementById('values');
const FIRST = ['stops', 'grade', 'soften-shadows', 'soften-lights', 'veil', 'palette', 'turn', 'reading'];
const fields = new Map();
let trouble = () => {};

// A choice as the command takes it.
export function asText(value) {
  if (Array.isArray(value))
    return Array.isArray(value[0]) ? value.map((point) => point.join(',')).join(' ') : value.join('x');
  return value !== null && typeof value === 'object' ? value.name : String(value);
}

const onlyWords = (values) => values.includes('|') && !/[A-Z"]/.test(values.replace('sRGB', ''));

function field(row) {
  const label = document.createElement('label'), id = `value-${row.name}`;
  label.textContent = row.name;
  label.htmlFor = id;
  let input;
  if (onlyWords(row.values)) {
    input = document.createElement('select');
    for (const word of row.values.split('|')) input.add(new Option(word, word));
  } else {
    input = document.createElement('input');
    input.disabled = row.file && row.name !== 'palette';
  }
  if (row.name === 'palette') {
    input = document.createElement('select');
    for (const word of ['neutral', 'amber', 'blue']) input.add(new Option(word, word));
  }
  input.id = id;
  input.title = `${row.help} (${row.values})`;
  input.addEventListener('change', () => type(row.name, input));
  fields.set(row.name, input);
  return [label, input];
}

async function type(name, input) {
  try {
    const answer = await tell('typed', { choices: state.choices, name, text: input.value.trim() });
    trouble('');
    await choose({ [name]: answer.choices[name] });
  } catch (error) {
    trouble(error.message);
  }
  refresh();
}

function refresh() {
  for (const [name, input] of fields) {
    const text = asText(state.choices[name]);
    if (input.tagName === 'SELECT' && ![...input.options].some((option) => option.value === text))
      input.add(new Option(text, text)); // a palette of the user's own, named at the start
    input.value = text;
  }
}

export function start(tellTrouble) {
  trouble = tellTrouble;
  const rows = new Map(state.table.map((row) => [row.name, row]));
  const more = document.createElement('details'), summary = document.createElement('summary');
  const rest = document.createElement('div');
  summary.textContent = 'All other choices';
  rest.className = 'more';
  more.append(summary, rest);
  for (const name of FIRST) if (rows.has(name)) form.append(...field(rows.get(name)));
  for (const row of state.table) if (!FIRST.includes(row.name)) rest.append(...field(row));
  form.append(more);
  form.addEventListener('submit', (event) => event.preventDefault());
  onChange(() => refresh());
  refresh();
}
