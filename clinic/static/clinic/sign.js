/* Signing needs the network: the button says so before it is tapped. */

const button = document.getElementById('sign-button');
const say = document.getElementById('sign-say');

function tell() {
  if (!button) return;
  button.disabled = !navigator.onLine;
  say.textContent = navigator.onLine
    ? 'Needs the network. It cannot be taken back.'
    : 'No network: signing waits until it is back. Nothing was lost.';
}

window.addEventListener('online', tell);
window.addEventListener('offline', tell);
tell();
