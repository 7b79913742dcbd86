import type { Problem } from './problem.js';
import type { ColumnMap, HeadColumn } from './raw.js';
import { nearest } from './suggestion.js';

export type ColumnOverride = NonNullable<ColumnMap['columns']>[string];

/**
 * Which entry of the map file applies to which column. A key is the label as written (case and outer blanks do not
 * count) or `#3` for the third column; a label that several columns share applies to all of them, and an entry by
 * number wins over one by label. Entries that match nothing become problems.
 */
export function matchOverrides(
  columns: readonly HeadColumn[],
  map: ColumnMap | undefined,
): { readonly overrides: ReadonlyMap<number, ColumnOverride>; readonly problems: readonly Problem[] } {
  const overrides = new Map<number, ColumnOverride>();
  const problems: Problem[] = [];
  const entries = Object.entries(map?.columns ?? {}).sort(([a], [b]) => Number(isPosition(a)) - Number(isPosition(b)));
  for (const [key, override] of entries) {
    const hits = columns.filter((column) => matches(key, column));
    for (const column of hits) overrides.set(column.index, override);
    if (hits.length === 0) problems.push(unmatched(key, columns));
  }
  return { overrides, problems };
}

function isPosition(key: string): boolean {
  return /^#\d+$/.test(key.trim());
}

function matches(key: string, column: HeadColumn): boolean {
  if (isPosition(key)) return column.index === Number(key.trim().slice(1)) - 1;
  return column.label.trim().toLowerCase() === key.trim().toLowerCase();
}

function unmatched(key: string, columns: readonly HeadColumn[]): Problem {
  const near = isPosition(key)
    ? undefined
    : nearest(
        key,
        columns.map((column) => column.label),
      );
  const hint = near === undefined ? `columns are #1 to #${columns.length}` : `did you mean "${near}"?`;
  return {
    code: 'map-unmatched',
    message: `The map file has an entry for column "${key}", which the recording does not have; ${hint}`,
  };
}
