/* A sentence of the letter is a button; where it comes from opens under the block it stands in. */

const paper = document.getElementById('letter');

async function open(button) {
  const address = `${paper.dataset.originUrl}?key=${encodeURIComponent(button.dataset.sentence)}`;
  const block = button.closest('li, p, table, .map-text') ?? button.parentElement;
  const place = document.createElement('div');
  place.className = 'origin-place';
  place.setAttribute('role', 'region');
  place.tabIndex = -1;
  place.setAttribute('aria-label', 'Where this sentence comes from');
  try {
    const answer = await fetch(address, { headers: { 'HX-Request': 'true' } });
    if (!answer.ok) throw new Error(String(answer.status));
    place.innerHTML = await answer.text();
  } catch {
    place.textContent = 'This needs the network. Nothing was changed.';
  }
  if (block.matches('li')) block.append(place); else block.after(place);
  place.focus(); // the words themselves only when asked for: a keyboard would cover the letter
}

paper?.addEventListener('click', event => {
  const button = event.target.closest('.says');
  if (!button) return;
  const wasOpen = button.getAttribute('aria-expanded') === 'true';
  for (const each of paper.querySelectorAll('.origin-place')) each.remove();
  for (const each of paper.querySelectorAll('.says[aria-expanded="true"]')) each.setAttribute('aria-expanded', 'false');
  if (wasOpen) return;
  button.setAttribute('aria-expanded', 'true');
  open(button);
});
