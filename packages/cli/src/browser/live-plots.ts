import type { PlotData } from '@telltale/core';
import { LivePlot } from './live-plot.js';

/** Milliseconds between two figures that are made live. */
const PAUSE = 10;

/**
 * Makes every figure of a report live, keeps it in step with the width and the theme, and lets links
 * and marks lead to the evidence. @returns what lets go of all of it, when the report is replaced by another
 */
export function makeLive(root: HTMLElement, data: PlotData): () => void {
  const live = new Map<string, LivePlot>();
  const figures = [...root.querySelectorAll<HTMLElement>('[data-plot]')];

  const open = (host: HTMLElement): LivePlot | undefined => {
    const id = host.dataset.plot ?? '';
    const figure = data[id];
    const known = live.get(id);
    if (known !== undefined || figure === undefined) return known;
    const name = host.querySelector('figcaption')?.textContent ?? '';
    host.classList.add('ready');
    const still = host.querySelector('.still');
    const place = document.createElement('div');
    still?.after(place);
    place.id = `${id}-live`;
    if (id.startsWith('drive-')) place.dataset.whole = '';
    const plot = new LivePlot(place, figure, name, (mark) => go(mark.figure ?? '', mark.from, mark.to));
    live.set(id, plot);
    return plot;
  };

  const go = (id: string, from: number, to: number): void => {
    const host = document.getElementById(id);
    if (host === null) return;
    const plot = open(host);
    host.scrollIntoView();
    plot?.showEvent(from, to);
    host.querySelector<HTMLElement>('.live')?.focus({ preventScroll: true });
  };

  // One after the other, so that no work blocks the page: those in sight first, then in order.
  const waiting = figures
    .map((figure) => ({ figure, far: distance(figure) }))
    .sort((a, b) => a.far - b.far)
    .map(({ figure }) => figure);
  let timer = 0;
  const openNext = (): void => {
    const next = waiting.shift();
    if (next === undefined) return;
    open(next);
    timer = setTimeout(openNext, PAUSE);
  };
  timer = setTimeout(openNext, PAUSE);

  const follow = (event: Event): void => {
    const link = (event.target as Element).closest<HTMLAnchorElement>('a[data-from]');
    if (link === null) return;
    const id = link.hash.slice(1);
    if (data[id] === undefined) return;
    event.preventDefault();
    history.replaceState(null, '', link.hash);
    go(id, Number(link.dataset.from), Number(link.dataset.to));
  };
  root.addEventListener('click', follow);

  let pending = 0;
  const redraw = (): void => {
    cancelAnimationFrame(pending);
    pending = requestAnimationFrame(() => {
      for (const plot of live.values()) plot.draw();
    });
  };
  const theme = matchMedia('(prefers-color-scheme: dark)');
  let width = innerWidth;
  const resized = (): void => {
    // A phone changes its height while it scrolls.
    if (innerWidth === width) return;
    width = innerWidth;
    redraw();
  };
  theme.addEventListener('change', redraw);
  addEventListener('resize', resized);
  return () => {
    clearTimeout(timer);
    root.removeEventListener('click', follow);
    theme.removeEventListener('change', redraw);
    removeEventListener('resize', resized);
  };
}

/** Pixels from what is in sight. */
function distance(figure: HTMLElement): number {
  const { top, bottom } = figure.getBoundingClientRect();
  return Math.max(0, top - innerHeight, -bottom);
}
