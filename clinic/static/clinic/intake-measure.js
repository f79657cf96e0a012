/* Measuring: the server judges while one types; counting by tapping. Without this file every form still works. */

const SVG = 'http://www.w3.org/2000/svg';
const drawn = (tag, attributes) => {
  const node = document.createElementNS(SVG, tag);
  for (const [name, value] of Object.entries(attributes)) node.setAttribute(name, value);
  return node;
};

/* ---- Judging while typing: a GET that changes nothing ---- */

for (const form of document.querySelectorAll('form.gauge')) {
  const slot = form.querySelector('.verdict');
  let waiting = 0;
  let asked = 0;
  const judge = async () => {
    const mine = ++asked;
    const query = new URLSearchParams();
    for (const [name, value] of new FormData(form)) {
      if (!['once', 'csrfmiddlewaretoken', 'looked_twice'].includes(name)) query.append(name, value);
    }
    try {
      const answer = await fetch(`${form.dataset.judge}?${query}`, { headers: { 'HX-Request': 'true' } });
      if (!answer.ok || mine !== asked) return;
      slot.innerHTML = await answer.text();
      window.htmx?.process(slot);
      if (form.hasAttribute('data-unkept')) slot.querySelector(':scope > .mark:not(.is-danger) > span')?.append(', not kept yet');
      form.querySelector('[name=typed]')?.setAttribute('aria-invalid', String(Boolean(slot.querySelector(':scope > .is-danger'))));
    } catch {
      /* no network: the value is judged when it is kept */
    }
  };
  form.addEventListener('input', event => {
    if (slot.contains(event.target) || event.target.closest('.tap')) return;
    clearTimeout(waiting);
    waiting = setTimeout(judge, 250);
  });
  form.addEventListener('submit', () => {
    clearTimeout(waiting);
    asked++;
    if (!window.htmx) form.removeAttribute('data-unkept'); /* the page goes with it */
  });
  form.addEventListener('htmx:beforeRequest', () => { clearTimeout(waiting); asked++; });
}

/* What is typed or chosen and not kept yet is said so, and not left behind without a word. */
const unkept = () => [...document.querySelectorAll('form.gauge[data-unkept]')];
const empty = form => !form.querySelector('[name=category]:checked') && !form.querySelector('[name=typed]')?.value.trim();
const nameOf = form => form.querySelector('.gauge-name').firstChild.textContent.trim().toLowerCase();
document.addEventListener('input', event => {
  const form = event.target.closest?.('form.gauge');
  if (form && !event.target.closest('.verdict, .tap')) form.toggleAttribute('data-unkept', !empty(form));
});
document.addEventListener('htmx:afterRequest', event => {
  if (event.detail.successful && event.detail.elt.matches?.('form.gauge')) event.detail.elt.removeAttribute('data-unkept');
  if (!unkept().length) done?.querySelector('[role=alert]').replaceChildren();
});
addEventListener('beforeunload', event => { if (unkept().length) event.preventDefault(); });
const done = document.querySelector('[data-after-measuring]');
let warned = '';
done?.addEventListener('submit', event => {
  const left = unkept(), names = left.map(nameOf).join(', ');
  if (left.length && warned !== names) {
    event.preventDefault();
    event.stopPropagation(); /* page.js would mark it as sent */
    warned = names;
    const said = done.querySelector('[role=alert]'), there = document.createElement('a');
    Object.assign(there, { href: `#${left[0].closest('section').id}`, className: 'text-link', textContent: names });
    there.addEventListener('click', click => { click.preventDefault(); (left[0].querySelector('[name=typed]') ?? left[0].querySelector('.gauge-keep')).focus(); left[0].scrollIntoView({ block: 'center' }); });
    said.replaceChildren('Keep it, or tap again to go on without it. Entered and not kept: ', there);
    return;
  }
  for (const form of left) form.removeAttribute('data-unkept');
});

/* A number in the field takes the word back, and the other way round. */
document.addEventListener('input', event => {
  const form = event.target.closest?.('form.gauge');
  if (!form || !event.target.value) return;
  const typed = form.querySelector('[name=typed]');
  const word = form.querySelector('[type=checkbox][name=category]');
  if (event.target === typed && word) word.checked = false;
  if (event.target === word && word.checked && typed) typed.value = '';
});

/* ---- Count by tapping: each tap is put on its own second, so an uneven rhythm can be seen ---- */

for (const open of document.querySelectorAll('[data-tap]')) {
  open.hidden = false;
  open.addEventListener('click', () => {
    const form = open.closest('form');
    const there = form.querySelector('.tap');
    document.querySelectorAll('.tap').forEach(tap => tap.remove());
    if (!there) form.append(tapper(form, open.dataset.tap));
  });
}

function tapper(form, thing) {
  const box = document.getElementById('t-tap').content.firstElementChild.cloneNode(true);
  const part = name => box.querySelector(`[data-slot=${name}]`);
  const pad = box.querySelector('.tap-pad');
  const svg = box.querySelector('.beats');
  let start = 0;
  let taps = [];
  let timer = 0;
  let seconds = 30;

  const draw = now => {
    const x = s => 8 + 584 * Math.min(1, s / seconds);
    const rules = Array.from({ length: seconds / 5 + 1 }, (_, i) => drawn('path', { class: 'span-rule', d: `M${x(i * 5)} 18v12` }));
    const beats = taps.map(t => drawn('ellipse', { cx: x(t), cy: 10, rx: 3, ry: 5 }));
    svg.replaceChildren(drawn('path', { class: 'span-rule', d: 'M8 24H592' }), ...rules, drawn('path', { class: 'span-run', d: `M8 24H${x(now)}` }), ...beats);
  };
  const reset = () => {
    clearInterval(timer);
    [start, taps, timer] = [0, [], 0];
    seconds = Number(box.querySelector('[name=tap-for]:checked').value);
    part('pad').textContent = `Tap once to start, on a ${thing}`;
    part('hint').textContent = `then once for each ${thing}. The first tap only starts the clock.`;
    part('end').replaceChildren();
    pad.disabled = false;
    draw(0);
  };
  const button = (words, act, main) => {
    const made = Object.assign(document.createElement('button'), { type: 'button', className: `button${main ? ' button-main' : ''}`, textContent: words });
    made.addEventListener('click', act);
    return made;
  };
  const take = rate => {
    const counted = form.querySelector('[name=seconds]') ?? form.appendChild(Object.assign(document.createElement('input'), { type: 'hidden', name: 'seconds' }));
    counted.value = seconds;
    const field = form.querySelector('[name=typed]');
    field.value = rate;
    box.remove();
    field.dispatchEvent(new Event('input', { bubbles: true }));
    field.focus();
  };
  const stop = () => {
    clearInterval(timer);
    pad.disabled = true;
    const rate = Math.round(taps.length * 60 / seconds);
    part('pad').textContent = `${taps.length} in ${seconds} seconds`;
    part('hint').textContent = `${rate} a minute`;
    part('end').append(button(`Take ${rate} a minute`, () => take(rate), true), button('Count again', () => { reset(); pad.focus(); }));
    box.focus(); // not the button: the next tap of a running count must not accept it
  };
  const tap = () => {
    if (pad.disabled) return;
    if (!start) {
      start = performance.now();
      timer = setInterval(() => { const s = (performance.now() - start) / 1000; draw(s); if (s >= seconds) stop(); }, 100);
      part('pad').textContent = '0';
      part('hint').textContent = '';
      return;
    }
    taps.push((performance.now() - start) / 1000);
    part('pad').textContent = taps.length;
    draw(taps.at(-1));
  };
  pad.addEventListener('pointerdown', event => { event.preventDefault(); tap(); });
  pad.addEventListener('keydown', event => {
    if ((event.key === ' ' || event.key === 'Enter') && !event.repeat) { event.preventDefault(); tap(); }
  });
  box.querySelectorAll('[name=tap-for]').forEach(radio => radio.addEventListener('change', reset));
  box.querySelector('[data-do=close]').addEventListener('click', () => { clearInterval(timer); box.remove(); });
  reset();
  return box;
}
