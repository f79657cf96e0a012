/* Signing needs the network, and everything that was tapped on this tablet: the button says so before it is tapped. */

const form = document.getElementById('sign'), button = document.getElementById('sign-button');
const say = document.getElementById('sign-say'), waits = document.getElementById('sign-waits');
let left; /* what waits of this visit; undefined while it is not counted yet */

function tell() {
  if (waits) {
    waits.hidden = !left;
    if (left) waits.querySelector('span').textContent = `${left} of this exam still ${left.startsWith('1 ') && !left.includes(' and ') ? 'waits' : 'wait'} on this tablet. Nothing is signed before the server has everything that was tapped.`;
  }
  if (!button) return;
  button.disabled = !navigator.onLine || left !== '';
  say.textContent = !navigator.onLine ? 'No network: signing waits until it is back. Nothing was lost.'
    : left === undefined ? 'Counting what still waits on this tablet …' : left ? 'Signing waits for what is still on this tablet.' : 'Needs the network. It cannot be taken back.';
}

document.addEventListener('waiting', ({ detail }) => { left = detail?.(form?.dataset.visit) ?? ''; tell(); });
addEventListener('online', tell);
addEventListener('offline', tell);
form?.addEventListener('submit', event => {
  if (button?.disabled) { event.preventDefault(); event.stopPropagation(); } /* by the enter key */
});
tell();
document.dispatchEvent(new CustomEvent('look-again'));
