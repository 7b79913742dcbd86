import type { Figure, Trace } from '../../plots/figure.js';
import type { PhaseRow } from '../../plots/phases.js';
import { clock, quantity as inUnit, span, unitSign } from '../format.js';
import { escaped, scrollOf } from '../page-shell.js';
import { figureSvg } from './figure-svg.js';

/**
 * A figure: caption, still drawing, legend, and its numbers as a table. A script puts the live plot into the place of the
 * drawing; the drawing stays for paper.
 */
export function figureHtml(figure: Figure, caption: string): string[] {
  return [
    `<figure class="plot" id="${figure.id}" data-plot="${figure.id}">`,
    `<figcaption>${escaped(caption)}</figcaption>`,
    ...figureSvg(figure, spokenFigure(figure, caption)),
    ...legendHtml(figure),
    ...numbersHtml(figure),
    '</figure>',
  ];
}

/** What the drawing shows, in a sentence a trace: for who cannot see it. */
function spokenFigure(figure: Figure, caption: string): string {
  const parts = figure.panels.flatMap(({ traces, unit, limits }) => [
    ...traces.map((trace) => {
      const reach = reachOf(trace, figure.time);
      return reach === undefined
        ? `${trace.name}: no sample`
        : `${trace.name} ${inUnit(reach.low, unit)} to ${inUnit(reach.high, unit)}, highest at ${clock(reach.highAt)}`;
    }),
    ...limits.map(({ name, value }) => `limit ${name} ${inUnit(value, unit)}`),
  ]);
  return `${caption}. ${parts.join('; ')}.`;
}

/** Colour, dash and name of each line, so that none of the three is needed alone. */
function legendHtml({ panels }: Figure): string[] {
  return [
    '<ul class="legend">',
    ...panels.flatMap(({ traces, unit, limits }) => [
      // A lone line is named by its panel.
      ...(traces.length < 2 ? [] : traces).map(
        ({ name }, k) =>
          `<li><svg class="swatch" viewBox="0 0 28 8" aria-hidden="true"><path class="t${k}" d="M0 4H28"/></svg>${escaped(name)}${unitSign(unit) === '' ? '' : `, ${escaped(unitSign(unit))}`}</li>`,
      ),
      ...limits.map(
        ({ name, value }) =>
          `<li><svg class="swatch" viewBox="0 0 28 8" aria-hidden="true"><path class="limit" d="M0 4H28"/></svg>limit ${escaped(name)} ${escaped(inUnit(value, unit))}</li>`,
      ),
    ]),
    '</ul>',
  ];
}

interface Reach {
  readonly low: number;
  readonly lowAt: number;
  readonly high: number;
  readonly highAt: number;
}

function reachOf(
  { values }: Trace,
  time: readonly number[],
  from = Number.NEGATIVE_INFINITY,
  to = Number.POSITIVE_INFINITY,
): Reach | undefined {
  let found: { low: number; lowAt: number; high: number; highAt: number } | undefined;
  for (let i = 0; i < values.length; i++) {
    const value = values[i];
    const t = time[i]!;
    if (value === null || value === undefined || t < from || t > to) continue;
    if (found === undefined) found = { low: value, lowAt: t, high: value, highAt: t };
    if (value < found.low) [found.low, found.lowAt] = [value, t];
    if (value > found.high) [found.high, found.highAt] = [value, t];
  }
  return found;
}

function numbersHtml(figure: Figure): string[] {
  const { panels, time, marks, step } = figure;
  const event = marks[0];
  const tenths = time[time.length - 1]! - time[0]! < 60;
  const rows = panels.flatMap(({ traces, unit }) =>
    traces.map((trace) => {
      const { states } = trace;
      const shown = (value: number): string => states?.[String(value)] ?? inUnit(value, unit);
      const reach = reachOf(trace, time);
      const within = event === undefined ? undefined : reachOf(trace, time, event.from - step, event.to + step);
      const cells = [
        reach === undefined ? 'no sample' : `${shown(reach.low)} at ${clock(reach.lowAt, tenths)}`,
        reach === undefined ? '' : `${shown(reach.high)} at ${clock(reach.highAt, tenths)}`,
        ...(event === undefined
          ? []
          : [within === undefined ? 'no sample' : `${shown(within.low)} to ${shown(within.high)}`]),
      ];
      return `<tr><th scope="row">${escaped(trace.name)}</th>${cells.map((cell) => `<td>${escaped(cell)}</td>`).join('')}</tr>`;
    }),
  );
  const head = [
    '',
    'lowest',
    'highest',
    ...(event === undefined ? [] : [`in the event ${span(event.from, event.to)}`]),
  ];
  return [
    '<details class="numbers"><summary>The same in numbers</summary>',
    scrollOf('the figure in numbers'),
    '<table>',
    `<thead><tr>${head.map((text, i) => (i === 0 ? '<td></td>' : `<th scope="col">${escaped(text)}</th>`)).join('')}</tr></thead>`,
    '<tbody>',
    ...rows,
    '</tbody></table></div>',
    ...(step > 0
      ? [`<p class="quiet">Thinned to one least and one greatest value every ${escaped(inUnit(step, 's', 2))}.</p>`]
      : []),
    '</details>',
  ];
}

const NAMES: Readonly<Record<PhaseRow['kind'], string>> = {
  standstill: 'standing',
  idle: 'idling',
  cruise: 'cruising',
  load: 'under load',
  pull: 'full pedal',
  overrun: 'overrun',
  braking: 'braking',
};

/** A row of a strip: when something was, over the length of the drive. */
export interface StripRow {
  /** HTML, escaped. */
  readonly name: string;
  readonly tone: string;
  readonly stretches: readonly (readonly [number, number])[];
  /** HTML, escaped. */
  readonly says: string;
}

/** Phases as rows of bars below each other: where a bar stands says which phase it is, not its colour alone. */
export function phaseStrip(phases: readonly PhaseRow[]): StripRow[] {
  return phases.map(({ kind, seconds, stretches, refused }) => ({
    name: NAMES[kind],
    tone: `phase-${kind}`,
    stretches,
    says: refused === undefined ? (stretches.length === 0 ? 'never' : clock(seconds)) : 'cannot be told',
  }));
}

export function stripHtml(rows: readonly StripRow[], from: number, to: number, caption: string): string[] {
  const at = (t: number): number => Math.round((10_000 * (t - from)) / (to - from || 1)) / 10;
  return [
    `<table class="strip"><caption>${escaped(caption)}</caption><tbody>`,
    ...rows.map(({ name, tone, stretches, says }) => {
      const bars = stretches
        .map(([a, b]) => `<rect x="${at(a)}" y="1" width="${Math.max(2.5, at(b) - at(a)).toFixed(1)}" height="8"/>`)
        .join('');
      return `<tr><th scope="row">${name}</th><td class="bars"><svg class="${tone}" viewBox="0 0 1000 10" preserveAspectRatio="none" aria-hidden="true">${bars}</svg></td><td>${says}</td></tr>`;
    }),
    '</tbody></table>',
  ];
}
