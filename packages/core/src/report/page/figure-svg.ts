import type { Figure, Mark, Panel, Trace } from '../../plots/figure.js';
import { clock, number, unitSign } from '../format.js';
import { escaped } from '../page-shell.js';
import { clockTicks, ticks } from './axis.js';

/** Units of the drawing; it is scaled to the width that there is. */
const WIDTH = 720;
const LEFT = 56;
const RIGHT = 12;
const TOP = 18;
const GAP = 26;
const FOOT = 22;
const HEIGHT = { first: 150, other: 64 } as const;
/** Coordinates are whole halves of a unit: no eye sees less, and it is shorter. */
const FINE = 2;

/**
 * The still drawing of a figure, for paper and for where no script runs. Nothing in it is a link, all of it is one image
 * with a text: the numbers stand in a table beside it.
 */
export function figureSvg(figure: Figure, text: string): string[] {
  const { panels, time } = figure;
  const [from, to] = [time[0]!, time[time.length - 1]!];
  const x = (t: number): number => LEFT + ((WIDTH - LEFT - RIGHT) * (t - from)) / (to - from || 1);
  const tops = panels.map((_, k) => TOP + (k === 0 ? 0 : HEIGHT.first + GAP + (k - 1) * (HEIGHT.other + GAP)));
  const bottom = (tops[tops.length - 1] ?? TOP) + (panels.length > 1 ? HEIGHT.other : HEIGHT.first);
  const out = [
    `<svg class="still" viewBox="0 0 ${WIDTH} ${bottom + FOOT}" role="img" aria-label="${escaped(text)}">`,
    ...shaded(figure).map(({ from: begin, to: end, severity }) => {
      const [a, b] = [x(Math.max(from, begin)), x(Math.min(to, end))];
      return `<rect class="mark ${severity}" x="${fixed(a)}" y="${TOP}" width="${fixed(Math.max(1.5, b - a))}" height="${bottom - TOP}"/>`;
    }),
  ];
  for (const t of clockTicks(from, to, 7))
    out.push(
      `<path class="grid" d="M${fixed(x(t))} ${TOP}V${bottom}"/>`,
      `<text x="${fixed(x(t))}" y="${bottom + 15}" text-anchor="middle">${clock(t, !Number.isInteger(t))}</text>`,
    );
  for (const [k, panel] of panels.entries())
    out.push(...panelSvg(panel, time, x, tops[k]!, k === 0 ? HEIGHT.first : HEIGHT.other));
  out.push('</svg>');
  return out;
}

/** A mark that fills most of a whole drive would tint all of it: the strip below the drive has it. */
function shaded({ id, time, marks }: Figure): readonly Mark[] {
  const most = 0.2 * (time[time.length - 1]! - time[0]!);
  return id.startsWith('drive-') ? marks.filter(({ from, to }) => to - from <= most) : marks;
}

function panelSvg(
  panel: Panel,
  time: readonly number[],
  x: (t: number) => number,
  top: number,
  height: number,
): string[] {
  const [low, high] = rangeOf(panel);
  const y = (value: number): number => top + height - (height * (value - low)) / (high - low);
  const sign = unitSign(panel.unit);
  return [
    `<text class="unit" x="${LEFT}" y="${top - 6}">${escaped(sign === '' ? panel.traces[0]!.name : `${panel.traces[0]!.name}, ${sign}`)}${panel.traces.length > 1 ? ' …' : ''}</text>`,
    ...levelsOf(panel, low, high, height > 100 ? 5 : 2).flatMap(([value, word]) => [
      `<path class="grid" d="M${LEFT} ${fixed(y(value))}H${WIDTH - RIGHT}"/>`,
      `<text x="${LEFT - 6}" y="${fixed(y(value) + 4)}" text-anchor="end">${escaped(word)}</text>`,
    ]),
    ...panel.limits
      .filter(({ value }) => value >= low && value <= high)
      .flatMap(({ name, value }) => [
        `<path class="limit" d="M${LEFT} ${fixed(y(value))}H${WIDTH - RIGHT}"/>`,
        `<text class="limit" x="${WIDTH - RIGHT - 4}" y="${fixed(y(value) - 4)}" text-anchor="end">${escaped(name)} ${number(value)}${sign === '' ? '' : ` ${sign}`}</text>`,
      ]),
    ...panel.traces.map((trace, k) => `<path class="t${k}" d="${pathOf(trace, time, x, y)}"/>`),
  ];
}

/** Values that are marked at the axis and what stands there: round numbers, or the words of the states that occur. */
function levelsOf({ traces }: Panel, low: number, high: number, count: number): [number, string][] {
  const [{ states, values }] = traces as [Trace];
  if (states === undefined) return ticks(low, high, count).map((value) => [value, number(value)]);
  const seen = [...new Set(values)].filter((value) => value !== null).sort((a, b) => a - b);
  return seen.map((value) => [value, states[String(value)] ?? number(value)]);
}

/** Values and the limits that they come near to, with a little air; never of no height. */
export function rangeOf({ traces, limits }: Panel): [number, number] {
  let low = Number.POSITIVE_INFINITY;
  let high = Number.NEGATIVE_INFINITY;
  for (const { values } of traces)
    for (const value of values) {
      if (value === null) continue;
      if (value < low) low = value;
      if (value > high) high = value;
    }
  if (!(low <= high)) return [0, 1];
  const reach = Math.max(high - low, 1e-9);
  for (const { value } of limits) {
    // A limit that is far away would flatten what is to be seen.
    if (value > high && value - high <= reach) high = value;
    if (value < low && low - value <= reach) low = value;
  }
  const air = high > low ? 0.06 * (high - low) : Math.max(1, Math.abs(high) * 0.05);
  return [low - air, high + air];
}

/** A line that is broken where no sample is for longer than the trace bridges. */
function pathOf(
  { values, bridge, drawn }: Trace,
  time: readonly number[],
  x: (t: number) => number,
  y: (value: number) => number,
): string {
  let path = '';
  let before = Number.NaN;
  let [px, py] = [0, 0];
  let last = '';
  for (let i = 0; i < values.length; i++) {
    const value = values[i];
    if (value === null || value === undefined) continue;
    const [cx, cy] = [Math.round(x(time[i]!) * FINE), Math.round(y(value) * FINE)];
    const joined = time[i]! - before <= bridge || (i > 0 && before === time[i - 1]);
    if (!joined) {
      path += `M${cx / FINE} ${cy / FINE}`;
      last = 'M';
    } else if (cx !== px || cy !== py) {
      const [dx, dy] = [(cx - px) / FINE, (cy - py) / FINE];
      if (drawn === 'steps') path += `h${dx}v${dy}`;
      else path += `${last === 'l' && dx >= 0 ? ' ' : last === 'l' ? '' : 'l'}${dx}${dy < 0 ? '' : ' '}${dy}`;
      last = drawn === 'steps' ? 'v' : 'l';
    }
    [px, py] = [cx, cy];
    before = time[i]!;
  }
  return path;
}

function fixed(value: number): string {
  return String(Math.round(value * 10) / 10);
}
