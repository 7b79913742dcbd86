import { statSync } from 'node:fs';
import type { Form } from './data.js';
import { duckdb, type Method, papaparse, polars, udsv } from './method.js';
import { memory, oursDecode, oursHashed, oursSummary, oursTwo } from './ours.js';

const METHODS: Readonly<Record<string, Method>> = {
  ours: oursDecode,
  'ours-hashed': oursHashed,
  'ours-two': oursTwo,
  'ours-summary': oursSummary,
  memory,
  papaparse,
  udsv,
  duckdb,
  polars,
};

export interface Measured {
  readonly seconds: number;
  /** Processor time of all threads of the process meanwhile. */
  readonly cpu: number;
  /** Peak resident memory of the process, MiB. */
  readonly peak: number;
  readonly rows: number;
  readonly sums: readonly number[];
}

/** One method on one file in this process: measures, then sums the columns, and prints both as JSON. */
export async function runChild([name, path, form, threads]: readonly string[]): Promise<void> {
  const method = METHODS[name!];
  if (method === undefined) throw new Error(`no method ${name}`);
  const task = { path: path!, form: form as Form, threads: Number(threads), size: statSync(path!).size };
  const before = process.cpuUsage();
  const began = performance.now();
  const decoded = await method(task);
  const seconds = (performance.now() - began) / 1000;
  const cpu = process.cpuUsage(before);
  const peak = process.resourceUsage().maxRSS / 1024;
  const sums = await decoded.sums();
  const measured: Measured = { seconds, cpu: (cpu.user + cpu.system) / 1e6, peak, rows: decoded.rows, sums };
  process.stdout.write(`${JSON.stringify(measured)}\n`, () => process.exit(0));
}
