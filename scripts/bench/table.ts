import { type Line, median } from './measure.js';

/** A floor that the project holds itself to. `ratio` is how many times faster (or at most how many times slower). */
export interface Floor {
  readonly what: string;
  readonly value: number;
  readonly atLeast?: number;
  readonly atMost?: number;
  readonly unit?: string;
}

export function holds({ value, atLeast, atMost }: Floor): boolean {
  if (Number.isNaN(value)) return false;
  return (atLeast === undefined || value >= atLeast) && (atMost === undefined || value <= atMost);
}

const fixed = (value: number, digits: number) => (Number.isNaN(value) ? '' : value.toFixed(digits));

/** Markdown table of all lines; `base` names the line that the others are compared with. */
export function lineTable(lines: readonly Line[], base: string): string {
  const reference = median(lines.find((line) => line.id === base)?.seconds ?? []);
  const rows = lines.map((line) => {
    if (line.skipped !== undefined) return `| ${line.label} | ${line.file} | skipped: ${line.skipped} | | | | |`;
    const seconds = median(line.seconds);
    const rate = line.bytes > 0 ? fixed(line.bytes / 1e6 / seconds, 0) : '';
    const cells = [
      fixed(seconds, 3),
      fixed(median(line.cpu), 3),
      rate,
      fixed(median(line.peak), 0),
      fixed(seconds / reference, 2),
    ];
    return `| ${line.label} | ${line.file} | ${cells.join(' | ')} |`;
  });
  return [
    '| method | file | s | processor s | MB/s | peak MiB | times ours |',
    '| --- | --- | ---: | ---: | ---: | ---: | ---: |',
    ...rows,
  ].join('\n');
}

export function floorTable(floors: readonly Floor[]): string {
  const rows = floors.map((floor) => {
    const bound = floor.atLeast !== undefined ? `≥ ${floor.atLeast}` : `≤ ${floor.atMost}`;
    const found = Number.isNaN(floor.value) ? 'not measured' : floor.value.toFixed(2);
    return `| ${floor.what} | ${bound}${floor.unit ?? ''} | ${found}${floor.unit ?? ''} | ${holds(floor) ? 'held' : 'missed'} |`;
  });
  return ['| what | floor | found | |', '| --- | ---: | ---: | --- |', ...rows].join('\n');
}

/** Largest difference between the sums of two methods, as a share of the sum. @throws Error when the counts differ. */
export function differenceOfSums(a: Line, b: Line): number {
  if (a.rows !== b.rows) throw new Error(`${a.label} read ${a.rows} rows, ${b.label} ${b.rows}`);
  if (a.sums.length !== b.sums.length)
    throw new Error(`${a.label} read ${a.sums.length} columns, ${b.label} ${b.sums.length}`);
  let worst = 0;
  for (let i = 0; i < a.sums.length; i++) {
    const scale = Math.max(1, Math.abs(a.sums[i]!), Math.abs(b.sums[i]!));
    const off = Math.abs(a.sums[i]! - b.sums[i]!) / scale;
    if (!(off <= worst)) worst = off;
  }
  return worst;
}
