/* Today looks again by itself, but never under somebody's hands. */

const EVERY = 10_000;

function inUse(day) {
  const at = document.activeElement;
  return (day.contains(at) && at.matches('input, select, textarea')) || day.querySelector('details[open]:not(.fold-narrow)') !== null;
}

/* What a telephone's user unfolded stays so when the list is swapped. */
let unfolded = [];
document.addEventListener('htmx:beforeSwap', () => {
  unfolded = [...document.querySelectorAll('.fold-narrow[open]')].map(each => each.id);
});
document.addEventListener('htmx:afterSwap', () => {
  for (const id of unfolded) document.getElementById(id)?.setAttribute('open', '');
});

/* While somebody types or chooses in the list it is not swapped: a note offers what is new. */
async function look() {
  const day = document.getElementById('day');
  if (document.hidden || !day) return;
  if (!inUse(day)) {
    window.htmx.trigger(day, 'look');
    return;
  }
  try {
    const answer = await fetch(day.getAttribute('hx-get'), { headers: { 'HX-Request': 'true', 'Tailward-Poll': '1' } });
    if (answer.status === 200) day.querySelector('.changed-note').hidden = false;
  } catch {
    // no network: the list stands as it is, with its hour in the heading
  }
}

setInterval(look, EVERY);
document.addEventListener('visibilitychange', look);

/* The button stays a link: without this file it opens the same panel as a page. */
const came = document.getElementById('came');
came?.addEventListener('click', async event => {
  const panel = document.getElementById('checkin');
  event.preventDefault();
  if (panel.childElementCount) {
    panel.replaceChildren();
    came.setAttribute('aria-expanded', 'false');
    return;
  }
  try {
    await window.htmx.ajax('GET', came.href, { target: panel, swap: 'innerHTML' });
    came.setAttribute('aria-expanded', 'true');
    panel.querySelector('input[name=q]')?.focus();
  } catch {
    location.assign(came.href);
  }
});
