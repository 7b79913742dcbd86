import { spawnSync } from 'node:child_process';
import { fileURLToPath } from 'node:url';
import type { Measured } from './child.js';
import type { Form } from './data.js';

/** One line of the table: what was run, how often, and what came out. */
export interface Line {
  readonly id: string;
  readonly label: string;
  readonly file: string;
  readonly bytes: number;
  readonly seconds: number[];
  readonly cpu: number[];
  readonly peak: number[];
  rows: number;
  sums: readonly number[];
  /** Why it was left out. */
  skipped?: string;
}

export interface Plan {
  readonly id: string;
  readonly label: string;
  readonly file: string;
  readonly bytes: number;
  run(): Measured | string;
}

/** Runs the plans in turn, `runs` times: what else the machine does falls on all of them alike. */
export function measure(plans: readonly Plan[], runs: number, say: (text: string) => void): Line[] {
  const lines = plans.map(({ id, label, file, bytes }): Line => {
    return { id, label, file, bytes, seconds: [], cpu: [], peak: [], rows: 0, sums: [] };
  });
  for (let k = 0; k < runs; k++) {
    for (const [i, plan] of plans.entries()) {
      const line = lines[i]!;
      if (line.skipped !== undefined) continue;
      touchMemory(plan.bytes);
      const measured = plan.run();
      if (typeof measured === 'string') {
        line.skipped = measured;
        say(`${plan.label}: skipped, ${measured}`);
        continue;
      }
      line.seconds.push(measured.seconds);
      line.cpu.push(measured.cpu);
      line.peak.push(measured.peak);
      line.rows = measured.rows;
      line.sums = measured.sums;
      say(`${k + 1}/${runs} ${plan.label}, ${plan.file}: ${measured.seconds.toFixed(3)} s`);
    }
  }
  return lines;
}

/** Bytes of memory that are touched before each run: more than any method takes for a file of this size. */
const leastTouched = 640e6;
const touchedPerByte = 2.2;

/**
 * Takes memory, touches each page and gives it back. The host of a virtual machine hands memory out when it is first
 * touched, which can take longer than all the reading; it would fall on whichever method came first.
 */
function touchMemory(bytes: number): void {
  const size = Math.max(leastTouched, touchedPerByte * bytes);
  const program = `const b = new Float64Array(${Math.ceil(size / 8)}); for (let i = 0; i < b.length; i += 512) b[i] = 1;`;
  spawnSync(process.execPath, ['-e', program], { stdio: 'ignore' });
}

/** One method of {@link runChild} in a process of its own. */
export function method(
  id: string,
  name: string,
  label: string,
  file: string,
  path: string,
  form: Form,
  bytes: number,
  threads = 1,
): Plan {
  return {
    id,
    label,
    file,
    bytes,
    run() {
      const done = spawnSync(
        process.execPath,
        ['--max-old-space-size=8192', fileURLToPath(import.meta.url), '--child', name, path, form, String(threads)],
        {
          encoding: 'utf8',
          maxBuffer: 1 << 26,
          env: {
            ...process.env,
            POLARS_MAX_THREADS: String(threads),
            UV_THREADPOOL_SIZE: '2',
          },
        },
      );
      const last = done.stdout.trim().split('\n').at(-1) ?? '';
      if (done.status !== 0 || last[0] !== '{') return reason(done.stderr);
      return JSON.parse(last) as Measured;
    },
  };
}

function reason(stderr: string): string {
  const line = stderr.split('\n').find((each) => /error|cannot|not/i.test(each)) ?? 'it failed';
  return line.trim().slice(0, 120);
}

/** A whole process from start to end, as a user starts it. `accept` = exit codes that are no failure. */
export function wholeProcess(
  id: string,
  label: string,
  file: string,
  bytes: number,
  args: readonly string[],
  accept = [0],
): Plan {
  return {
    id,
    label,
    file,
    bytes,
    run() {
      const began = performance.now();
      const done = spawnSync(process.execPath, args, { stdio: ['ignore', 'ignore', 'pipe'], encoding: 'utf8' });
      const seconds = (performance.now() - began) / 1000;
      if (!accept.includes(done.status ?? -1)) return reason(done.stderr);
      return { seconds, cpu: Number.NaN, peak: Number.NaN, rows: 0, sums: [] };
    },
  };
}

/** Middle value; of an even count the mean of the two in the middle. NaN when empty. */
export function median(values: readonly number[]): number {
  const sorted = [...values].sort((a, b) => a - b);
  const mid = sorted.length >> 1;
  if (sorted.length === 0) return Number.NaN;
  return sorted.length % 2 === 1 ? sorted[mid]! : (sorted[mid - 1]! + sorted[mid]!) / 2;
}
