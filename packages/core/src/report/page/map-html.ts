import type { MapCell, SpeedLoadMap } from '../../plots/speed-load-map.js';
import { number, unitSign } from '../format.js';
import { escaped, scrollOf } from '../page-shell.js';

/** Shades of a cell: the number stands in it, so the shade says nothing alone. */
const SHADES = 5;

/** A map as a table: load downwards, engine speed to the right, values in the cells, empty where nothing was driven. */
export function mapHtml(map: SpeedLoadMap): string[] {
  const speeds = [...new Set(map.cells.map(({ speed }) => speed))].sort((a, b) => a - b);
  const loads = [...new Set(map.cells.map(({ load }) => load))].sort((a, b) => b - a);
  const at = new Map(map.cells.map((cell) => [`${cell.speed}/${cell.load}`, cell]));
  const sign = unitSign(map.unit);
  return [
    scrollOf(map.title, 'map'),
    '<table>',
    `<caption>${escaped(map.title)}, ${escaped(sign)} <span class="quiet">${escaped(map.about)}; load as a share of ${escaped(map.load)}</span></caption>`,
    `<thead><tr><th scope="col">load from, % \\ rpm from</th>${speeds.map((speed) => `<th scope="col">${speed}</th>`).join('')}</tr></thead>`,
    '<tbody>',
    ...loads.map(
      (load) =>
        `<tr><th scope="row">${Math.round(100 * load)}</th>${speeds.map((speed) => cellHtml(at.get(`${speed}/${load}`), map.full)).join('')}</tr>`,
    ),
    '</tbody></table></div>',
  ];
}

function cellHtml(cell: MapCell | undefined, full: number): string {
  if (cell === undefined) return '<td class="none"><span class="aside">not driven</span></td>';
  const { value, events = 0 } = cell;
  const shade = Math.min(SHADES, Math.round((SHADES * Math.abs(value)) / full));
  const side = value < 0 ? 'below' : 'above';
  const text = `${value > 0 && value < 0.05 ? '0' : number(Math.round(value * 10) / 10)}${events > 0 ? ` <b>(${events})</b>` : ''}`;
  return `<td class="${side} s${shade}">${text}</td>`;
}
