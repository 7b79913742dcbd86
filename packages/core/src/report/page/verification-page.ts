import { spoken } from '../../channels/spoken.js';
import type { PullCurves } from '../../verify/curves.js';
import type { Table, TableCell, Verification } from '../../verify/verification.js';
import type { Block } from '../document.js';
import { number, quantity, unitSign } from '../format.js';
import { blockLines } from '../html.js';
import { STYLE } from '../html-style.js';
import { escaped, pageOf, scrollOf } from '../page-shell.js';
import { verificationDocument } from '../verification-document.js';
import { ticks } from './axis.js';
import { PAGE_STYLE } from './page-style.js';

const WIDTH = 620;
const HEIGHT = 250;
const LEFT = 58;
const RIGHT = 14;
const TOP = 24;
const FOOT = 34;

/**
 * The sign-off sheet as one self-contained page without a script: the sheet as in every other form, with each pull drawn over
 * engine speed, and the tables as grids. Same input, same bytes.
 * @param curves of the same run (`onCurves`); without, nothing is drawn
 */
export function verificationPage(sheet: Verification, curves: readonly PullCurves[] = []): string {
  const blocks = verificationDocument(sheet);
  const [before, after] = parted(blocks, ['Dynamics', 'Tables', 'Cell by cell', 'Air meter', 'Filling', 'Pulls']);
  const [first, rest] = parted(after, ['Cell by cell', 'Air meter', 'Filling', 'Pulls']);
  return pageOf({
    title: `Map sign-off${sheet.vehicle.id === '' ? '' : ` of ${sheet.vehicle.id}`} – telltale`,
    style: STYLE + PAGE_STYLE,
    body: [
      '<main>',
      ...before.flatMap(blockLines),
      ...(curves.length === 0
        ? []
        : [
            '<h2>Every pull over engine speed</h2>',
            '<div class="curves">',
            ...curves.flatMap((each) => curveHtml(each, sheet)),
            '</div>',
          ]),
      ...first.flatMap(blockLines),
      ...gridsHtml(sheet.tables ?? []),
      ...rest.flatMap(blockLines),
      '</main>',
    ],
  });
}

/** Blocks before and from the first heading of these. */
function parted(blocks: readonly Block[], headings: readonly string[]): readonly [readonly Block[], readonly Block[]] {
  const at = blocks.findIndex((block) => block.kind === 'heading' && headings.includes(block.text));
  return at < 0 ? [blocks, []] : [blocks.slice(0, at), blocks.slice(at)];
}

/** Limits that are a level of what is drawn. */
const LEVELS: Readonly<Record<string, readonly string[]>> = {
  knock: ['knock.worst'],
  mixtureError: ['mixture.lean'],
  boostError: ['boost.overshoot'],
};

function curveHtml({ id, title, unit, curves }: PullCurves, { limits }: Verification): string[] {
  const levels = limits.filter((each) => LEVELS[id]?.includes(each.id)).map(({ limit }) => limit);
  const all = curves.flatMap(({ points }) => points);
  const values = [...all.map(([, value]) => value), ...levels.map(({ value }) => value as number), 0];
  const [from, to] = [Math.min(...all.map(([rpm]) => rpm)), Math.max(...all.map(([rpm]) => rpm))];
  const [low, high] = [Math.min(...values), Math.max(...values)];
  const margin = 0.04 * (high - low || 1);
  const x = (rpm: number): number =>
    Math.round(10 * (LEFT + ((WIDTH - LEFT - RIGHT) * (rpm - from)) / (to - from || 1))) / 10;
  const y = (value: number): number =>
    Math.round(10 * (TOP + (HEIGHT - TOP - FOOT) * (1 - (value - low + margin) / (high - low + 2 * margin)))) / 10;
  const sides = (['before', 'after'] as const).filter((side) => curves.some((each) => each.side === side));
  const top = curves.map(({ side, pull, points }) => {
    const worst = points.reduce((a, b) => (b[1] > a[1] ? b : a));
    return { side, pull, rpm: worst[0], value: worst[1] };
  });
  const counted = sides.map((side) => `${curves.filter((each) => each.side === side).length} ${side}`).join(', ');
  return [
    '<figure class="plot">',
    `<figcaption>${escaped(title.charAt(0).toUpperCase() + title.slice(1))}: ${escaped(counted)}</figcaption>`,
    `<svg viewBox="0 0 ${WIDTH} ${HEIGHT}" role="img" aria-label="${escaped(`${title} of every pull over engine speed; the highest value of each is in the table below`)}">`,
    `<text class="unit" x="${LEFT}" y="${TOP - 9}">${escaped(unitSign(unit) === '' ? title : unitSign(unit))}</text>`,
    ...ticks(low, high, 5).flatMap((value) => [
      `<path class="grid" d="M${LEFT} ${y(value)}H${WIDTH - RIGHT}"/>`,
      `<text x="${LEFT - 6}" y="${y(value) + 4}" text-anchor="end">${number(value)}</text>`,
    ]),
    ...ticks(from, to, 6).map(
      (rpm) => `<text x="${x(rpm)}" y="${HEIGHT - FOOT + 16}" text-anchor="middle">${number(rpm)}</text>`,
    ),
    `<text class="unit" x="${WIDTH - RIGHT}" y="${HEIGHT - 4}" text-anchor="end">engine speed, rpm</text>`,
    ...sides.flatMap((side) =>
      curves
        .filter((each) => each.side === side)
        .map(
          ({ points }) =>
            `<path class="${side === 'after' ? 't0' : 't1'}" d="${points.map(([rpm, value], k) => `${k === 0 ? 'M' : 'L'}${x(rpm)} ${y(value)}`).join('')}"/>`,
        ),
    ),
    ...levels.flatMap(({ value, unit: own }) => [
      `<path class="limit" d="M${LEFT} ${y(value as number)}H${WIDTH - RIGHT}"/>`,
      `<text class="limit" x="${WIDTH - RIGHT - 2}" y="${y(value as number) - 4}" text-anchor="end">limit ${escaped(quantity(value, own))}</text>`,
    ]),
    '</svg>',
    '<ul class="legend">',
    ...sides.map(
      (side) =>
        `<li><svg class="swatch" viewBox="0 0 28 8" aria-hidden="true"><path class="${side === 'after' ? 't0' : 't1'}" d="M1 4H27"/></svg>${side}</li>`,
    ),
    '</ul>',
    '<details class="numbers"><summary>Highest value of each pull</summary>',
    scrollOf(`${title}, highest of each pull`),
    '<table><thead><tr><th scope="col">pull</th><th scope="col" class="right">highest</th><th scope="col" class="right">at rpm</th></tr></thead><tbody>',
    ...top.map(
      ({ side, pull, rpm, value }) =>
        `<tr><th scope="row">${side} ${pull}</th><td class="right">${escaped(quantity(value, unit, 3))}</td><td class="right">${number(Math.round(rpm))}</td></tr>`,
    ),
    '</tbody></table></div></details>',
    '</figure>',
  ];
}

/** Quantities of which the extreme is the point: the value of a node would smooth it away. */
const EXTREMES: readonly string[] = ['knock'];
const SHADES = 5;

function gridsHtml(tables: readonly Table[]): string[] {
  const shown = tables.filter(({ cells }) => cells.length > 0);
  if (shown.length === 0) return [];
  return [
    '<p class="quiet">Empty: not visited. In brackets: visited, but with too little to say; the number is the plain mean.</p>',
    '<div class="maps">',
    ...shown.flatMap(gridHtml),
    '</div>',
  ];
}

function gridHtml(table: Table): string[] {
  const { cells, load } = table;
  const speeds = table.engineSpeed.filter((speed) => cells.some((cell) => cell.engineSpeed === speed));
  const loads = load.points.filter((point) => cells.some((cell) => cell.load === point)).sort((a, b) => b - a);
  const at = new Map(cells.map((cell) => [`${cell.engineSpeed}/${cell.load}`, cell]));
  const extreme = EXTREMES.includes(table.id);
  const of = (cell: TableCell): number => (extreme ? cell.extreme : (cell.value ?? cell.mean));
  const full = Math.max(...cells.map((cell) => Math.abs(of(cell))));
  const name = `${table.title}${table.member === undefined ? '' : `, ${table.member}`}`;
  const sign = unitSign(table.unit);
  return [
    scrollOf(name, 'map'),
    '<table>',
    `<caption>${escaped(name)}${sign === '' ? '' : `, ${escaped(sign)}`} <span class="quiet">${extreme ? 'worst single sample' : 'value of the node'}; load: ${escaped(spoken(load.channel))}, ${escaped(unitSign(load.unit))}</span></caption>`,
    `<thead><tr><th scope="col">load \\ rpm</th>${speeds.map((speed) => `<th scope="col">${speed}</th>`).join('')}</tr></thead>`,
    '<tbody>',
    ...loads.map(
      (point) =>
        `<tr><th scope="row">${number(point)}</th>${speeds.map((speed) => cellHtml(at.get(`${speed}/${point}`), of, full, table.unit)).join('')}</tr>`,
    ),
    '</tbody></table></div>',
  ];
}

function cellHtml(cell: TableCell | undefined, of: (cell: TableCell) => number, full: number, unit: string): string {
  if (cell === undefined) return '<td class="none"><span class="aside">not visited</span></td>';
  const value = of(cell);
  const text = number(unit === '1' ? Math.round(1000 * value) / 1000 : Number(value.toPrecision(3)));
  if (!cell.enough)
    return `<td class="few">(${escaped(text)})<span class="aside">, too little to say: ${cell.visits} visits</span></td>`;
  const shade = full > 0 ? Math.min(SHADES, Math.round((SHADES * Math.abs(value)) / full)) : 0;
  return `<td class="${value < 0 ? 'below' : 'above'} s${shade}">${escaped(text)}${cell.scavenging === true ? ' *<span class="aside"> fresh air may pass the valves here</span>' : ''}</td>`;
}
