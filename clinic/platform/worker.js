/* The service worker: pages of the exam open again without a network, for whoever works here and nobody else.
   It answers three kinds of GET and leaves everything else alone: static files of its release, pages, and the
   static files of a page that an older release made. It keeps no answer to a POST and no page but those in
   SET.pages. `SET` stands in front, written by offline.py. */

const FILES = `tailward-files-${SET.release}`, PAGES = `tailward-pages-${SET.release}`;
const kept = SET.pages.map(pattern => new RegExp(pattern)), files = new Set(SET.files);
const PATIENCE = 3_000, MOST = 12, DAY = 24 * 3_600_000; /* ms, pages, ms */
const HASHED = /\.[0-9a-f]{12}\.\w+$/;

addEventListener('install', event => {
  skipWaiting(); /* files are named by their content, so an open page never meets another release's */
  event.waitUntil((async () => {
    const cache = await caches.open(FILES);
    await cache.addAll(SET.files.map(path => new Request(path, HASHED.test(path) ? {} : { cache: 'no-cache' })));
    await cache.addAll(Object.values(SET.instead).map(path => new Request(path, { credentials: 'omit', cache: 'reload' })));
  })());
});
addEventListener('activate', event => event.waitUntil((async () => {
  await registration.navigationPreload?.enable();
  await clients.claim();
  await prunePages();
  await pruneFiles();
})()));

addEventListener('fetch', event => {
  const { request } = event, url = new URL(request.url);
  if (url.origin !== location.origin) return;
  if (request.method !== 'GET') {
    if (url.pathname === SET.signOut) event.waitUntil(forget());
    return;
  }
  if (url.pathname.startsWith(SET.static)) event.respondWith(file(request, url));
  else if (request.mode === 'navigate') event.respondWith(page(event, url));
});

addEventListener('message', event => {
  const { works, keep: path } = event.data ?? {};
  event.waitUntil((async () => {
    if (works) await hear(works);
    await learning;
    if (path && isKept(path)) await fetch(path).then(answer => learn(path, answer, answer), () => {});
    event.ports[0]?.postMessage('done');
  })());
});

/* ---- Answers ---- */

/* A name with a hash means one content for ever: from the tablet. Any other: from the network while there is one. */
async function file(request, url) {
  const own = HASHED.test(url.pathname) && files.has(url.pathname) && await (await caches.open(FILES)).match(url.pathname);
  if (own) return own;
  try { return await fetch(request); } catch (error) {
    const old = await caches.match(url.pathname);
    if (old) return old;
    throw error;
  }
}

/* The network first, so that no tablet stays on an old release; what is kept only when it is slow or gone. */
async function page(event, url) {
  const fresh = (async () => (await event.preloadResponse) ?? fetch(event.request))();
  const learnt = fresh.then(answer => learn(url.pathname, answer, isKept(url.pathname) ? answer.clone() : null));
  event.waitUntil(learnt.catch(() => {}));
  if (isKept(url.pathname)) {
    const first = await Promise.race([fresh.catch(() => null), new Promise(late => { setTimeout(late, PATIENCE, null); })]);
    if (first && !isGone(first)) return first;
    const own = await ownPage(url.pathname);
    if (own) return own;
  }
  try {
    const answer = await fresh;
    if (!isGone(answer)) return answer;
  } catch { /* no network: one of our own pages says so */ }
  return await instead(url.pathname) ?? fresh;
}
/* The proxy answers for a server that is not there. */
const isGone = answer => [502, 503, 504].includes(answer.status);
const isKept = path => kept.some(pattern => pattern.test(path));

async function instead(path) {
  const why = await isLocked() ? 'locked' : Object.entries(SET.insteadOf).find(([pattern]) => new RegExp(pattern).test(path))?.[1] ?? 'page';
  return (await caches.open(FILES)).match(SET.instead[why]);
}

/* ---- Who may see what is kept ---- */

/* What the server said last of who works here: {at, grant}; no grant: nobody. */
let works;
async function known() {
  const kept = works ?? await read('works') ?? { at: 0, grant: '' };
  return works ??= kept; /* somebody else may have heard something newer meanwhile */
}

/* An answer that left before the last hand-over says nothing. Another person, or nobody: nothing stays. */
async function hear(header) {
  await known();
  const [at, grant = ''] = header.split(' '), before = works;
  if (Number(at) < before.at) return false;
  works = { at: Number(at), grant };
  await write('works', works);
  if (grant !== before.grant) await forget();
  return true;
}
async function isLocked() {
  const { grant } = await known(), touched = await read('touched') ?? Date.now();
  return !grant || await read('locked') === grant || Date.now() - touched >= SET.locksAfter;
}

/* One after the other, so that whoever asks can wait for those before. */
let learning = Promise.resolve();
function learn(path, answer, whole) {
  const now = learning.then(() => take(path, answer, whole));
  learning = now.catch(() => {}); /* a full disk: this page is not kept, the next may be */
  return learning;
}
async function take(path, answer, whole) {
  const header = answer.headers.get('Tailward-Works');
  if (!header || !await hear(header)) return;
  const whose = header.split(' ')[1] ?? '';
  if (!whole || !whose || !answer.ok || answer.redirected || !await db()) return;
  const headers = new Headers(answer.headers);
  headers.set('Tailward-Kept', Date.now());
  const copy = new Response(await whole.blob(), { status: 200, headers });
  if ((await known()).grant !== whose) return; /* handed over while it came */
  await (await caches.open(PAGES)).put(path, copy);
  await prunePages();
}

async function ownPage(path) {
  if (await isLocked()) return undefined;
  const { grant } = await known();
  for (const name of await pageCaches()) {
    const found = await (await caches.open(name)).match(path);
    if (found && found.headers.get('Tailward-Works')?.split(' ')[1] === grant && isFresh(found)) return found;
  }
  return undefined;
}
const isFresh = answer => Date.now() - Number(answer.headers.get('Tailward-Kept')) < DAY;
/* This release's first. */
async function pageCaches() {
  return (await caches.keys()).filter(name => name.startsWith('tailward-pages-')).sort((a, b) => (b === PAGES) - (a === PAGES));
}

/* Pages and how their exams stood go; taps and photographs that wait stay. */
async function forget() {
  await Promise.all((await pageCaches()).map(name => caches.delete(name)));
  await within('exams', store => {
    store.openCursor().onsuccess = event => {
      const cursor = event.target.result;
      if (!cursor) return;
      if (cursor.value.state) { const { state, at, ...rest } = cursor.value; cursor.update(rest); }
      cursor.continue();
    };
  });
}

/* The newest few pages of today, each once. */
async function prunePages() {
  const seen = new Set();
  for (const name of await pageCaches()) {
    const cache = await caches.open(name), requests = await cache.keys();
    let left = 0;
    for (const request of requests.reverse()) {
      const path = new URL(request.url).pathname;
      if (seen.has(path) || seen.size >= MOST || !isFresh(await cache.match(request))) await cache.delete(request);
      else { seen.add(path); left += 1; }
    }
    if (name !== PAGES && !left) await caches.delete(name);
  }
}
/* An older release's files stay while a page kept needs them. Only when a release begins: at any other time the
   files of one that is not known here are those of the next, just being fetched. */
async function pruneFiles() {
  const needed = (await pageCaches()).map(name => name.replace('pages', 'files'));
  for (const name of await caches.keys()) if (name.startsWith('tailward-files-') && name !== FILES && !needed.includes(name)) await caches.delete(name);
}

/* ---- The tablet's database, which kept.js makes ---- */

let opened;
function db() {
  opened ??= new Promise(yes => {
    let request;
    try { request = indexedDB.open('tailward'); } catch { yes(null); return; }
    request.onupgradeneeded = () => request.transaction.abort(); /* no page has made it yet: not ours to make */
    request.onsuccess = () => {
      request.result.onversionchange = () => { request.result.close(); opened = undefined; };
      yes(request.result);
    };
    request.onerror = () => { opened = undefined; yes(null); };
  });
  return opened;
}
async function within(store, work) {
  const open = await db();
  if (!open) return undefined;
  return new Promise((yes, no) => {
    const step = open.transaction(store, 'readwrite');
    const asked = work(step.objectStore(store));
    step.oncomplete = () => yes(asked?.result);
    step.onabort = () => no(step.error);
  });
}
const read = key => within('tablet', store => store.get(key));
const write = (key, value) => within('tablet', store => { store.put(value, key); });
