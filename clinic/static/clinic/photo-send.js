/* Sends one photograph that waits on this tablet, under the grant of whoever took it. The key is made with it, so
   one that is sent twice arrives once. Throws when the network or the server is away: then it waits on. */

/* Answers a fresh CSRF token, or '' when nobody is signed in. */
export async function tokenFor(photo) {
  const asked = await fetch(photo.token, { headers: { Accept: 'application/json', 'Tailward-Poll': '1' } });
  if (asked.status === 401) return '';
  if (!asked.ok) throw new Error(String(asked.status));
  return (await asked.json()).token;
}

/* `became`: arrived (with `told`, what the server says of it, which a locked tablet does not hear), signed-out,
   stranger (this tablet no longer knows who took it: it waits on) or refused for good. `words`: why. */
export async function sendPhoto(photo, token) {
  const form = new FormData();
  for (const name of ['key', 'target', 'taken_at', 'grant', 'note']) form.append(name, photo[name]);
  form.append('photo', photo.blob, 'photograph.jpg');
  const answer = await fetch(photo.send, { method: 'POST', body: form, headers: { Accept: 'application/json', 'X-CSRFToken': token, 'Tailward-Poll': '1' } });
  if (answer.status === 401) return { became: 'signed-out' };
  if (answer.status === 200) return { became: 'arrived', told: (await answer.json()).photo };
  if (answer.status === 422) {
    const { reason, words } = await answer.json();
    return { became: reason === 'grant' ? 'stranger' : 'refused', words };
  }
  if ([400, 404, 413].includes(answer.status)) return { became: 'refused', words: 'The server cannot take it.' };
  throw new Error(String(answer.status));
}
