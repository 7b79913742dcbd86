import { existsSync, readFileSync } from 'node:fs';
import { fileURLToPath } from 'node:url';
import Papa from 'papaparse';
import type { RawTable } from '../../src/recording/raw.js';
import { type ColumnSpec, rawTable } from './helpers.js';

const DATA = new URL('../../../../../shared/data/', import.meta.url);

/** Path of an open recording, or undefined (with a visible message) when the data folder is not beside the project. */
export function realFile(name: string): string | undefined {
  const path = fileURLToPath(new URL(name, DATA));
  if (existsSync(path)) return path;
  console.warn(`skipped: ../shared/data/${name} is absent`);
  return undefined;
}

export interface Layout {
  /** Line of the names, from 1; source and unit rows follow when present. */
  readonly headerLine: number;
  readonly sourceRow?: boolean;
  readonly unitRow?: boolean;
  /** Column of the time (from 0); without it the rows are `period` seconds apart. */
  readonly timeColumn?: number;
  readonly period?: number;
}

/** Reads a comma-separated file with a known layout, apart from ingest. */
export function realTable(path: string, layout: Layout): RawTable {
  const lines = readFileSync(path, 'utf8').split(/\r?\n/);
  const rows = Papa.parse<string[]>(lines.slice(layout.headerLine - 1).join('\n'), { skipEmptyLines: true }).data;
  const names = rows[0]!;
  let first = 1;
  const sources = layout.sourceRow ? rows[first++]! : [];
  const units = layout.unitRow ? rows[first++]! : [];
  const body = rows.slice(first);
  const time = body.map((row, i) =>
    layout.timeColumn === undefined ? i * (layout.period ?? 1) : Number(row[layout.timeColumn]),
  );
  const specs: ColumnSpec[] = [];
  names.forEach((name, c) => {
    if (c === layout.timeColumn) return;
    specs.push({
      label: name.trim(),
      unit: (units[c] ?? '').trim(),
      source: (sources[c] ?? '').trim(),
      values: body.map((row) => {
        const cell = (row[c] ?? '').trim();
        if (cell === '') return null;
        const number = Number(cell);
        return Number.isNaN(number) ? cell : number;
      }),
    });
  });
  return rawTable(time, specs);
}
