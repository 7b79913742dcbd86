import { exchangedLevel, type Place, placeDifferences } from '../math/label-exchange.js';
import { mean } from '../math/mean.js';
import { studentQuantile } from '../math/student.js';
import { type Axes, placeOn } from './axes.js';
import { type SampleSet, TABLED } from './table-samples.js';
import type { CellChange, TableChange } from './verification.js';

/** Visits of a cell that both sides need to be compared, and from which labels can be exchanged between them. */
const FEWEST = 3;
const EXCHANGED_FROM = 6;
/** Level of all cells of a table together. */
const ALPHA = 0.05;

/**
 * Before against after, cell by cell: one mean a visit, never samples. The band of a table holds for all of its cells
 * together. Cells with six visits and more on both sides: max-T over exchanges of whole visits between the sides. Cells with
 * fewer: Student's quantile at 1 - (1 - a)^(1/m) over m cells (Šidák, JASA 62 (1967) 626-633: never too narrow, however the
 * cells hang together), the degrees of freedom those of the cell alone. The 5 % are shared between both kinds by their
 * numbers of cells. The spread between visits is pooled over a cell and its neighbours.
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
      const cells = changesOf(meansOf(other, axes), meansOf(set, axes), axes);
      const member = key.slice(quantity.id.length + 1);
      return cells.length === 0
        ? []
        : [{ id: quantity.id, title, unit: quantity.unit, ...(member === '' ? {} : { member }), cells }];
    }),
  );
}

/** Mean of each visit (by its stretch) of each cell; the cell is that of the nearest node. */
function meansOf(set: SampleSet, { engineSpeed, load }: Axes): Map<number, Map<number, number>> {
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
  return new Map(
    [...rows].map(([node, visits]) => [node, new Map([...visits].map(([visit, values]) => [visit, mean(values)]))]),
  );
}

/** Compared cells as places of visits; visits of both sides are numbered through, those before first. */
function placesOf(
  before: ReadonlyMap<number, ReadonlyMap<number, number>>,
  after: ReadonlyMap<number, ReadonlyMap<number, number>>,
  nodes: readonly number[],
  columns: number,
): { readonly places: Place[]; readonly second: Uint8Array } {
  const units = new Map<string, number>();
  const labels: number[] = [];
  const at = new Map(nodes.map((node, p) => [node, p]));
  const numbered = (side: 0 | 1, visit: number): number => {
    const key = `${side}/${visit}`;
    let unit = units.get(key);
    if (unit === undefined) {
      unit = units.size;
      units.set(key, unit);
      labels.push(side);
    }
    return unit;
  };
  const places = nodes.map((node): Place => {
    const all = [
      ...[...before.get(node)!].map(([visit, value]) => ({ unit: numbered(0, visit), value })),
      ...[...after.get(node)!].map(([visit, value]) => ({ unit: numbered(1, visit), value })),
    ].sort((a, b) => a.unit - b.unit);
    const column = node % columns;
    const near = [
      node,
      node - columns,
      node + columns,
      ...(column > 0 ? [node - 1] : []),
      ...(column + 1 < columns ? [node + 1] : []),
    ];
    return {
      unit: Int32Array.from(all, ({ unit }) => unit),
      value: Float64Array.from(all, ({ value }) => value),
      pooled: near.flatMap((each) => at.get(each) ?? []),
    };
  });
  return { places, second: Uint8Array.from(labels) };
}

function changesOf(
  before: ReadonlyMap<number, ReadonlyMap<number, number>>,
  after: ReadonlyMap<number, ReadonlyMap<number, number>>,
  { engineSpeed, load }: Axes,
): CellChange[] {
  const columns = engineSpeed.length;
  const least = (node: number): number => Math.min(before.get(node)?.size ?? 0, after.get(node)?.size ?? 0);
  const nodes = [...after.keys()].filter((node) => least(node) >= FEWEST).sort((a, b) => a - b);
  const often = nodes.filter((node) => least(node) >= EXCHANGED_FROM);
  const rare = nodes.length - often.length;
  const share = (count: number): number => (ALPHA * count) / nodes.length;
  const common = placesOf(before, after, often, columns);
  const exchanged = exchangedLevel(common.places, common.second, share(often.length));
  const single = (1 - share(rare)) ** (1 / rare);
  const { places, second } = placesOf(before, after, nodes, columns);
  const errors = placeDifferences(places, second);
  // Cells of the max-T are pooled among themselves, as they were when the labels were exchanged.
  const errorsOfOften = placeDifferences(common.places, common.second);
  return nodes.map((node, p): CellChange => {
    const visits = { before: before.get(node)!.size, after: after.get(node)!.size };
    const k = often.indexOf(node);
    const { difference, error } = k >= 0 ? errorsOfOften[k]! : errors[p]!;
    const times = k >= 0 ? exchanged : studentQuantile((1 + single) / 2, visits.before + visits.after - 2);
    const reach = times * error;
    const [first, last] = [mean([...before.get(node)!.values()]), mean([...after.get(node)!.values()])];
    const magnitude = Math.abs(first) + Math.abs(last);
    return {
      engineSpeed: engineSpeed[node % columns]!,
      load: load.points[Math.floor(node / columns)]!,
      visits,
      before: first,
      after: last,
      difference: { value: difference, low: difference - reach, high: difference + reach },
      band: k >= 0 ? 'max-t' : 'student',
      // A difference in the last digits of equal numbers is none.
      changed: Math.abs(difference) > Math.max(reach, 1e-9 * magnitude),
    };
  });
}
