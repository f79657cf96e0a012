/* The whole exam by keyboard. Letters work only while an answer of the walk has the focus. */

import { $, $$ } from './dom.js';

const OFF = 'tailward-keys-off';
const VALUES = { n: 'normal', a: 'abnormal', x: 'not-examined' };

export function keys(app) {
  const dialog = $('#keys-dialog'), off = $('#keys-off');
  try { off.checked = localStorage.getItem(OFF) === '1'; } catch { /* a browser that keeps nothing */ }
  off.addEventListener('change', () => { try { localStorage.setItem(OFF, off.checked ? '1' : ''); } catch { /* as above */ } });
  $('#keys').addEventListener('click', () => dialog.showModal());

  document.addEventListener('keydown', event => {
    if (event.defaultPrevented || event.ctrlKey || event.metaKey || event.altKey || document.querySelector('dialog[open]')) return;
    const on = document.activeElement, types = on?.matches('textarea, select, input:not([type=radio]):not([type=checkbox])');
    if (event.key === 'Escape' && $('.panel')) { app.panels.close(true); return; }
    if (types || off.checked || !on?.closest('#walk')) return;
    if (act(app, event, on)) event.preventDefault();
  });
}

function act(app, { key }, on) {
  const station = on.closest('.station'), code = station?.id;
  if (key === '?') { $('#keys-dialog').showModal(); return true; }
  if (key === 'z') { $('#back').click(); return true; }
  if (!code) return false;
  const at = app.codes.indexOf(code);
  if (key === ']' || key === '[') {
    const next = app.codes[at + (key === ']' ? 1 : -1)];
    if (next) { app.open(next); focusLine($$('.line', document.getElementById(next))[0]); }
    return true;
  }
  if (key === 'N') { $('[data-do=fill]', station)?.click(); return true; }
  const lines = $$('.line', station), line = on.closest('.line');
  if (key === 'j' || key === 'k') { focusLine(lines[line ? lines.indexOf(line) + (key === 'j' ? 1 : -1) : 0]); return true; }
  if (!line) return false;
  if (key === 'l' || key === 'r') { focusChoice($(`.choice[data-column="${key === 'l' ? 'left' : 'right'}"]`, line)); return true; }
  if (key === 's' && $('.panel [data-do=same]')) { $('.panel [data-do=same]').click(); return true; }
  if (key === 'Enter' && on.closest('.choice') && $('.panel', line)) { $('.panel input, .panel .button', line).focus(); return true; }
  const value = VALUES[key], choice = on.closest('.choice');
  if (!value || !choice) return false;
  const radio = $(`input[value="${value}"]`, choice);
  if (radio) { radio.focus(); radio.click(); }
  return true;
}
function focusLine(line) {
  if (!line) return;
  line.scrollIntoView({ block: 'nearest' });
  focusChoice($('.choice', line));
}
const focusChoice = choice => (choice && ($('input:checked', choice) ?? $('input', choice)))?.focus();
