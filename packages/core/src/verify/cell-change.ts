import { mean } from '../math/mean.js';
import { studentQuantile } from '../math/student.js';
import { type Axes, placeOn } from './axes.js';
import { type SampleSet, TABLED } from './table-samples.js';
import type { CellChange, TableChange } from './verification.js';

/** Visits of a cell that both sides need. */
const FEWEST = 3;
const ALPHA = 0.05;

/** Means of the visits of one cell. */
interface Visits {
  readonly before: readonly number[];
  readonly after: readonly number[];
}

/**
 * Before against after, cell by cell: one mean a visit, never samples. The band of a table holds for all of its cells
 * together: Student's quantile at 1 - (1 - 0.05)^(1/m) over m cells (Šidák, JASA 62 (1967) 626-633: never too narrow,
 * however the cells hang together). The spread between visits is pooled over a cell and its neighbours, the degrees of
 * freedom are those of the cell alone.
 */
export function cellChanges(
  before: ReadonlyMap<string, SampleSet>,
  after: ReadonlyMap<string, SampleSet>,
  axes: Axes,
): TableChange[] {
  return TABLED.flatMap(({ quantity, title }) =>
    [...after].flatMap(([key, set]): TableChange[] => {
      const other = before.get(key);
      if (!key.startsWith(`${quantity.id}/`) || other === undefined) return [];
      const cells = changesOf(visitsOf(other, set, axes), axes);
      const member = key.slice(quantity.id.length + 1);
      return cells.length === 0
        ? []
        : [{ id: quantity.id, title, unit: quantity.unit, ...(member === '' ? {} : { member }), cells }];
    }),
  );
}

function visitsOf(before: SampleSet, after: SampleSet, axes: Axes): Map<number, Visits> {
  const [a, b] = [meansOf(before, axes), meansOf(after, axes)];
  const found = new Map<number, Visits>();
  for (const [node, values] of b) {
    const others = a.get(node);
    if (others !== undefined && others.length >= FEWEST && values.length >= FEWEST)
      found.set(node, { before: others, after: values });
  }
  return found;
}

/** Mean of each visit of each cell; the cell is that of the nearest node. */
function meansOf(set: SampleSet, { engineSpeed, load }: Axes): Map<number, number[]> {
  const rows = new Map<number, Map<number, number[]>>();
  for (let i = 0; i < set.value.length; i++) {
    const x = placeOn(engineSpeed, set.speed[i]!);
    const y = placeOn(load.points, set.load[i]!);
    if (x === undefined || y === undefined) continue;
    const node = (y.at + Math.round(y.share)) * engineSpeed.length + x.at + Math.round(x.share);
    const visits = rows.get(node) ?? new Map<number, number[]>();
    const values = visits.get(set.stretch[i]!) ?? [];
    values.push(set.value[i]!);
    visits.set(set.stretch[i]!, values);
    rows.set(node, visits);
  }
  return new Map([...rows].map(([node, visits]) => [node, [...visits.values()].map((values) => mean(values))]));
}

function changesOf(cells: ReadonlyMap<number, Visits>, { engineSpeed, load }: Axes): CellChange[] {
  const columns = engineSpeed.length;
  const level = (1 - ALPHA) ** (1 / cells.size);
  return [...cells]
    .sort(([a], [b]) => a - b)
    .map(([node, { before, after }]): CellChange => {
      const column = node % columns;
      const near = [
        node,
        node - columns,
        node + columns,
        ...(column > 0 ? [node - 1] : []),
        ...(column + 1 < columns ? [node + 1] : []),
      ];
      let squares = 0;
      let freedom = 0;
      for (const each of near) {
        const visits = cells.get(each);
        for (const values of visits === undefined ? [] : [visits.before, visits.after]) {
          const centre = mean(values);
          for (const value of values) squares += (value - centre) ** 2;
          freedom += values.length - 1;
        }
      }
      const error = Math.sqrt((squares / freedom) * (1 / before.length + 1 / after.length));
      const reach = studentQuantile((1 + level) / 2, before.length + after.length - 2) * error;
      const [a, b] = [mean(before), mean(after)];
      return {
        engineSpeed: engineSpeed[column]!,
        load: load.points[Math.floor(node / columns)]!,
        visits: { before: before.length, after: after.length },
        before: a,
        after: b,
        difference: { value: b - a, low: b - a - reach, high: b - a + reach },
        changed: Math.abs(b - a) > reach,
      };
    });
}
