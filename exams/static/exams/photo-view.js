/* One photograph in large, another date beside it, what it shows, and striking it out. */

import { $, button, el, pick, upper } from './dom.js';
import { place } from './words.js';

export function viewPhoto(app, photo, list) {
  const photos = app.photos, title = el('h2', { id: 'photo-view-title' });
  const close = button('Close', () => dialog.close());
  const before = button('Before', () => step(1), 'photo-before'), after = button('After', () => step(-1), 'photo-after');
  const pair = el('div', { class: 'photo-pair' }), more = el('div', { class: 'photo-view-more' }), acts = el('div', { class: 'photo-view-do' });
  const dialog = el('dialog', { class: 'over photo-view', 'aria-labelledby': 'photo-view-title' },
    el('div', { class: 'photo-view-head' }, title, el('div', { class: 'picks' }, before, after), close), pair, more, acts);
  let left = photo, right = null;

  const figure = each => el('figure', { class: 'photo-large' },
    el('figcaption', {}, el('b', {}, upper(photos.day(each))), `, ${each.taken_at ?? each.at}`.replace(/T(\d\d:\d\d).*/, ' $1').replace(/, \S+ /, ', '), ' ', el('span', { class: 'quiet' }, `by ${each.by}`), photos.mark(each) ? el('span', { class: 'is-look' }, ` ${photos.mark(each)}`) : null),
    el('img', { src: photos.large(each), alt: [where(app, each.target), each.note, photos.day(each)].filter(Boolean).join(', '), width: each.width, height: each.height }),
    each.note ? el('p', { class: 'photo-note' }, each.note) : null);

  function draw() {
    title.textContent = where(app, left.target);
    const at = list.indexOf(left);
    before.toggleAttribute('disabled', at === list.length - 1);
    after.toggleAttribute('disabled', at <= 0);
    before.parentElement.hidden = list.length < 2;
    pair.classList.toggle('photo-pair-two', Boolean(right));
    pair.replaceChildren(...[left, right].filter(Boolean).map(figure));
    const others = list.filter(p => p !== left);
    more.replaceChildren(...(others.length ? [el('h3', {}, 'Beside it'), el('ul', { class: 'photo-row' }, ...others.map(beside))] : []));
  }
  function beside(each) {
    const face = el('button', { type: 'button', class: 'photo-thumb', 'aria-pressed': String(each === right), 'aria-current': each === right ? 'true' : undefined, data: { beside: each.key }, 'aria-label': `Beside it: ${photos.day(each)}${each.note ? `, ${each.note}` : ''}`, on: { click: () => { right = right === each ? null : each; draw(); $(`[data-beside="${CSS.escape(each.key)}"]`, more).focus(); } } },
      el('img', { src: photos.small(each), alt: '', width: each.width, height: each.height }));
    return el('li', {}, face, el('span', { class: 'small quiet' }, photos.day(each)));
  }
  function step(by) {
    const next = list[list.indexOf(left) + by];
    if (!next) return;
    if (next === right) right = left; /* the two change places */
    left = next;
    draw(); actions();
  }

  function actions() {
    acts.replaceChildren();
    acts.hidden = !photos.isHere(left) || app.model.server.signed;
    if (acts.hidden) return;
    const me = app.data.me, own = left.staff === me.staff, waits = photos.isWaiting(left), shown = left;
    const wrong = el('p', { class: 'field-error small', role: 'status' });
    const tell = async (promise, then) => { wrong.textContent = (await promise) ?? ''; if (!wrong.textContent) then(); };
    if (!own && !me.assesses) return;
    const note = el('input', { type: 'text', maxlength: 200, autocomplete: 'off' });
    note.value = left.note;
    note.addEventListener('change', () => tell(photos.describe(shown, { note: note.value.trim() }), draw));
    if (!left.refused) acts.append(el('label', { class: 'field' }, el('span', {}, 'What it shows'), note));
    if (me.assesses && !waits) {
      const box = pick({ type: 'checkbox', mark: 'normal', words: 'In the letter', checked: left.letter, change: (on, input) => tell(photos.describe(shown, { letter: on ? '1' : '' }), () => { shown.letter = on; }).then(() => { input.checked = Boolean(shown.letter); }) });
      acts.append(box);
    }
    if (left.refused) acts.append(el('p', { class: 'is-danger' }, `Not saved: ${left.refused}`), el('a', { class: 'button', href: photos.large(left), download: 'photograph.jpg' }, 'Keep it as a file'));
    const gone = () => { list = list.filter(p => p !== shown); dialog.close(); };
    if (waits) acts.append(el('div', { class: 'row' }, button('Discard it', () => tell(photos.strike(shown, ''), gone), 'button-danger'), el('span', { class: 'small quiet' }, left.refused ? 'It is on this tablet only.' : 'It was not sent yet, so nothing of it would be left.')));
    else {
      const why = el('input', { type: 'text', maxlength: 200, autocomplete: 'off' });
      acts.append(el('div', { class: 'row' }, el('label', { class: 'field' }, el('span', {}, 'Strike it out, because'), why), button('Strike out', () => { if (why.value.trim()) tell(photos.strike(shown, why.value.trim()), gone); else { wrong.textContent = 'Say why it is struck out.'; why.focus(); } }, 'button-danger')));
    }
    acts.append(wrong);
  }

  dialog.addEventListener('keydown', event => {
    if (event.target.matches('input')) return;
    if (event.key === 'ArrowLeft') { event.preventDefault(); step(1); }
    if (event.key === 'ArrowRight') { event.preventDefault(); step(-1); }
  });
  const from = document.activeElement?.dataset.key;
  dialog.addEventListener('close', () => { dialog.remove(); $(`[data-key="${CSS.escape(from ?? '')}"].photo-thumb`)?.focus(); });
  document.body.append(dialog);
  draw(); actions();
  dialog.showModal();
  close.focus();
}

/* What a target is called on this page. */
function where(app, target) {
  const line = app.model.lines.get(target) ?? [...app.model.lines.values()].find(each => each.stored_at.includes(target));
  return line ? place(line) : upper(target.replace(':', ' '));
}
