// Asks back in a place of the page, and tells beside the finger what came of a press: a small screen shows little else.

import { el } from './dom.js';

/** Asks back; true for `yes`. The answer that changes nothing comes first, and has the focus. */
export const askBack = (place, words, { no, yes }) => new Promise((resolve) => {
  const answer = (label, kind, said) => el('button', { type: 'button', class: kind, onclick: () => { place.replaceChildren(); resolve(said); } }, label);
  const stays = answer(no, 'main', false);
  place.replaceChildren(el('div', { class: 'problems', role: 'alert' }, words, el('div', { class: 'actions' }, stays, answer(yes, 'quiet', true))));
  stays.focus();
  place.scrollIntoView({ block: 'nearest' });
});

/** Where is told what came of the buttons above it: there from the start, so that a screen reader hears what comes. */
export const teller = () => el('p', { class: 'state', role: 'status' });

/** Tells it, where it is seen, and stays seen when what is above it grows; the focus stays where it is. */
export function tell(place, ...words) {
  place.classList.remove('sticks');
  place.replaceChildren(...words);
  place.scrollIntoView({ block: 'nearest' });
  place.classList.add('sticks');
}
