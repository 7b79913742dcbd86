import { type ReadOptions, readTable } from '../../src/ingest/index.js';
import type { RawTable } from '../../src/recording/raw.js';

export const bytes = (text: string): Uint8Array => new TextEncoder().encode(text);

export async function tableOf(text: string | Uint8Array, options: Partial<ReadOptions> = {}): Promise<RawTable> {
  const result = await readTable(typeof text === 'string' ? bytes(text) : text, { name: 'test', ...options });
  if (!result.ok) throw new Error(`${result.fault.code}: ${result.fault.message}`);
  return result.table;
}

export async function faultOf(text: string | Uint8Array, options: Partial<ReadOptions> = {}) {
  const result = await readTable(typeof text === 'string' ? bytes(text) : text, { name: 'test', ...options });
  if (result.ok) throw new Error('no fault');
  return result.fault;
}

export const codes = (table: RawTable): string[] => table.problems.map((problem) => problem.code);
