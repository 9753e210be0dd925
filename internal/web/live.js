'use strict';
(() => {
  const d = document, b = d.body, live = d.getElementById('live'), root = b.dataset.root;
  if (!live) return;
  let skew = b.dataset.now * 1000 - Date.now(), heard = Date.now(), last = 0, due = 0, lost = false, over = false, source;
  const now = () => (Date.now() + skew) / 1000, whole = s => Math.max(0, Math.floor(s / 60));
  const long = m => m < 120 ? m + ' min' : m < 1440 ? Math.floor(m / 60) + ' h ' + (m % 60 ? m % 60 + ' min' : '') : Math.floor(m / 1440) + ' d ' + Math.floor(m % 1440 / 60) + ' h';
  const set = (e, t) => { if (e && e.textContent !== t) e.textContent = t; };
  const say = (t, cls) => { set(live, t); live.className = cls; };
  function count() {
    for (const e of d.querySelectorAll('[data-turns]')) {
      const [from, to] = e.dataset.turns.split(' ').map(t => whole(t - now()));
      set(e, to === undefined || from === to ? '' + from : from + '–' + to);
    }
    for (const e of d.querySelectorAll('[data-since]')) set(e, long(whole(now() - e.dataset.since)).trim());
    const quiet = Math.floor((Date.now() - heard) / 1000), age = d.getElementById('age');
    if (!over && quiet >= 30) say('No word from the server. What is shown is as of the time below.', 'stale');
    set(age, !over && quiet >= 30 ? 'What is shown is ' + (quiet < 120 ? quiet + ' s' : long(whole(quiet))) + ' old.' : '');
    if (!over && source && source.readyState === 2 && quiet % 5 === 0) listen();
    if (due && Date.now() >= due || Date.now() - last > 60000 && !lost) fetchNow();
  }
  function swap(next) {
    const old = d.querySelector('main'), at = d.activeElement, y = scrollY;
    const open = [...old.querySelectorAll('details')].map(e => [e.id, e.open]), aside = [...old.querySelectorAll('.wide')].map(e => e.scrollLeft);
    const key = at && old.contains(at) ? at.id ? '#' + CSS.escape(at.id) : at.getAttribute('href') ? 'a[href="' + CSS.escape(at.getAttribute('href')) + '"]' : at.tagName === 'SUMMARY' ? '#' + CSS.escape(at.parentNode.id) + '>summary' : '' : '';
    const again = key ? [...old.querySelectorAll(key)].indexOf(at) : -1;
    for (const [id, is] of open) { const e = id && next.querySelector('#' + CSS.escape(id)); if (e) e.open = is; }
    old.replaceChildren(...next.childNodes);
    [...old.querySelectorAll('.wide')].forEach((e, i) => { e.scrollLeft = aside[i] || 0; });
    if (again >= 0) { const e = old.querySelectorAll(key)[again] || old.querySelector(key); if (e) e.focus({ preventScroll: true }); }
    if (scrollY !== y) scrollTo(scrollX, y);
  }
  async function fetchNow() {
    last = Date.now(); due = 0;
    try {
      const r = await fetch(location.href, { cache: 'no-store' }), page = new DOMParser().parseFromString(await r.text(), 'text/html'), next = page.querySelector('main');
      if (r.ok && next) {
        skew = page.body.dataset.now * 1000 - Date.now(); heard = Date.now(); lost = false;
        swap(next); say('Live.', 'live');
        d.documentElement.style.setProperty('--foot', page.body.dataset.foot);
      } else if (r.status === 403 || r.status === 404) {
        over = true; source.close(); say(page.body.textContent.trim() + ' What is shown stays as it was.', 'stale');
      }
    } catch (e) { lost = true; }
    count();
  }
  function listen() {
    if (source) source.close();
    source = new EventSource(root + 'live');
    const word = () => { heard = Date.now(); if (lost) { lost = false; due = 1; } else if (live.className === 'stale') say('Live.', 'live'); count(); };
    source.onopen = () => { if (live.className === 'stale') due = 1; word(); };
    source.addEventListener('beat', word);
    source.addEventListener('change', () => { due = Math.max(Date.now(), last + 800); setTimeout(count, due - Date.now() + 5); word(); });
    source.addEventListener('over', fetchNow);
  }
  d.addEventListener('click', e => {
    const a = e.target.closest && e.target.closest('a[href]');
    if (!a || !(lost || live.className === 'stale') || a.getAttribute('href').startsWith('#')) return;
    e.preventDefault();
    const to = a.getAttribute('href');
    fetch(to, { cache: 'no-store' }).then(() => { location.href = to; }, () => say('The server does not answer, so that page cannot be opened now.', 'stale'));
  });
  d.addEventListener('visibilitychange', () => { if (!d.hidden && !over) fetchNow(); });
  addEventListener('online', () => { if (!over) fetchNow(); });
  last = Date.now();
  say('Live.', 'live');
  listen();
  setInterval(count, 1000);
})();
