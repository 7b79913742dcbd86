import { spoken } from '../../channels/spoken.js';
import type { GearPlot } from '../../plots/gears.js';
import { number } from '../format.js';
import { escaped, scrollOf } from '../page-shell.js';
import { ticks } from './axis.js';

const WIDTH = 720;
const HEIGHT = 300;
const LEFT = 56;
const RIGHT = 40;
const TOP = 22;
const FOOT = 34;

/** Shaft speed over road speed: in a gear the points lie on a line through nothing; the learned ratios are these lines. */
export function gearHtml({ points, ratios, shaft, road }: GearPlot): string[] {
  const fastest = 1.04 * Math.max(...points.map(([speed]) => speed));
  const highest = 1.04 * Math.max(...points.map(([, turns]) => turns));
  const x = (speed: number): number => Math.round(LEFT + ((WIDTH - LEFT - RIGHT) * speed) / fastest);
  const y = (turns: number): number => Math.round(TOP + (HEIGHT - TOP - FOOT) * (1 - turns / highest));
  const named = ratios.map(({ gear, value, u, samples }, k) => ({
    name: gear === null ? `ratio ${k + 1}` : `gear ${gear}`,
    short: gear === null ? `(${k + 1})` : String(gear),
    value,
    u,
    samples,
  }));
  const text = `${spoken(shaft)} over ${road}. ${named.map(({ name, value }) => `${name} ${number(value)} rpm per km/h`).join('; ')}.`;
  return [
    '<figure class="plot" id="gears">',
    `<figcaption>Gears: ${escaped(spoken(shaft))} over ${escaped(road.includes(' ') ? road : spoken(road))}</figcaption>`,
    `<svg viewBox="0 0 ${WIDTH} ${HEIGHT}" role="img" aria-label="${escaped(text)}">`,
    `<text class="unit" x="${LEFT}" y="${TOP - 8}">${escaped(spoken(shaft))}, rpm</text>`,
    ...ticks(0, highest, 5).flatMap((turns) => [
      `<path class="grid" d="M${LEFT} ${y(turns)}H${WIDTH - RIGHT}"/>`,
      `<text x="${LEFT - 6}" y="${y(turns) + 4}" text-anchor="end">${number(turns)}</text>`,
    ]),
    ...ticks(0, fastest, 8).map(
      (speed) => `<text x="${x(speed)}" y="${HEIGHT - FOOT + 16}" text-anchor="middle">${number(speed)}</text>`,
    ),
    `<text class="unit" x="${WIDTH - RIGHT}" y="${HEIGHT - 4}" text-anchor="end">road speed, km/h</text>`,
    ...named.flatMap(({ short, value }) => {
      const end = Math.min(fastest, highest / value);
      return [
        `<path class="ratio" d="M${x(0)} ${y(0)}L${x(end)} ${y(end * value)}"/>`,
        `<text class="ratio" x="${x(end) + 4}" y="${y(end * value) + (end < fastest ? -3 : 4)}">${escaped(short)}</text>`,
      ];
    }),
    `<path class="dots" d="${points.map(([speed, turns]) => `M${x(speed)} ${y(turns)}h0`).join('')}"/>`,
    '</svg>',
    scrollOf('ratios'),
    '<table><thead><tr><td></td><th scope="col" class="right">rpm per km/h</th><th scope="col" class="right">standard uncertainty</th><th scope="col" class="right">samples</th></tr></thead><tbody>',
    ...named.map(
      ({ name, value, u, samples }) =>
        `<tr><th scope="row">${escaped(name)}</th><td class="right">${number(value)}</td><td class="right">${number(u, 2)}</td><td class="right">${number(samples)}</td></tr>`,
    ),
    '</tbody></table></div>',
    '</figure>',
  ];
}
