// `npm run bench [-- --runs N] [--quick] [--out FILE]`: reading logs beside the libraries one would otherwise take.
// Every method runs in a process of its own, all in turn; equal column sums are verified; ratios are of medians.
import { mkdirSync, writeFileSync } from 'node:fs';
import { availableParallelism, cpus, loadavg } from 'node:os';
import { join } from 'node:path';
import { parseArgs } from 'node:util';
import { runChild } from './child.js';
import { type Form, ROWS, WIDTH, writeRecording } from './data.js';
import { type Line, measure, median, method, type Plan, wholeProcess } from './measure.js';
import { fetchPolars } from './peers.js';
import { differenceOfSums, type Floor, floorTable, holds, lineTable } from './table.js';

/** Sums of the same doubles, compensated on both sides. */
const SUM_TOLERANCE = 1e-12;

const say = (text: string) => void process.stderr.write(`bench: ${text}\n`);
const telltale = join('packages', 'cli', 'bin', 'telltale.js');

async function main(): Promise<number> {
  const { values } = parseArgs({
    options: {
      runs: { type: 'string', default: '5' },
      seed: { type: 'string', default: '1' },
      quick: { type: 'boolean', default: false },
      out: { type: 'string' },
    },
  });
  const runs = Number(values.runs);
  const seed = Number(values.seed);
  if (!(Number.isInteger(runs) && runs >= 1) || !Number.isInteger(seed)) {
    say('expected --runs N of at least 1 and --seed S, both whole numbers');
    return 2;
  }
  const folder = join(process.cwd(), 'node_modules', '.cache', 'telltale', 'bench');
  mkdirSync(folder, { recursive: true });
  const data = (form: Form, rows: number, name: string) => {
    const path = join(folder, `${form}-${rows}-${seed}.csv`);
    say(`data: ${name}`);
    return { path, form, bytes: writeRecording(path, form, rows, seed), name };
  };
  const plain = data('plain', ROWS, '100 MB');
  const comma = data('decimal-comma', ROWS, 'decimal comma, 1 % empty');
  const quoted = data('quoted', ROWS, 'every cell quoted');
  const of = (id: string, name: string, label: string, file: typeof plain, threads = 1) =>
    method(id, name, label, file.name, file.path, file.form, file.bytes, threads);
  const polarsMissing = fetchPolars();
  if (polarsMissing !== undefined) say(`Polars: ${polarsMissing}`);

  const plans: Plan[] = [
    of('ours', 'ours', 'telltale, 1 thread', plain),
    of('ours-hashed', 'ours-hashed', 'telltale with SHA-256, 1 thread', plain),
    of('ours-two', 'ours-two', 'telltale, 2 threads', plain, 2),
    of('memory', 'memory', 'fresh memory for the columns alone', plain),
    of('papaparse', 'papaparse', 'papaparse streaming + Number', plain),
    of('udsv', 'udsv', 'udsv streaming + Number', plain),
    of('duckdb', 'duckdb', 'DuckDB, 1 thread', plain),
    of('duckdb-two', 'duckdb', 'DuckDB, 2 threads', plain, 2),
    of('polars', 'polars', 'Polars, 1 thread', plain),
    of('polars-two', 'polars', 'Polars, 2 threads', plain, 2),
    of('ours-comma', 'ours', 'telltale, 1 thread', comma),
    of('papaparse-comma', 'papaparse', 'papaparse streaming + Number', comma),
    of('ours-quoted', 'ours', 'telltale, 1 thread', quoted),
    of('papaparse-quoted', 'papaparse', 'papaparse streaming + Number', quoted),
  ];
  const commands: Plan[] = [
    wholeProcess('node', 'bare node', '', 0, ['-e', '0']),
    wholeProcess('version', 'telltale --version', '', 0, [telltale, '--version']),
    wholeProcess('help', 'telltale --help', '', 0, [telltale, '--help']),
    wholeProcess('columns', 'telltale columns', plain.name, plain.bytes, [telltale, 'columns', plain.path, '--json']),
    wholeProcess('assess', 'telltale assess', plain.name, plain.bytes, [telltale, 'assess', plain.path, '--json']),
  ];
  const lines = measure(plans, runs, say);
  const whole = measure(commands, runs, say);
  const large: Line[] = [];
  if (!values.quick) {
    const gigabyte = data('plain', ROWS * 10, '1 GB');
    const few = Math.min(runs, 3);
    large.push(
      ...measure(
        [
          of('ours-1g', 'ours', 'telltale, 1 thread', gigabyte),
          of('ours-two-1g', 'ours-two', 'telltale, 2 threads', gigabyte, 2),
          of('ours-summary-1g', 'ours-summary', 'telltale, summary only', gigabyte),
        ],
        few,
        say,
      ),
    );
  }
  verifySums(lines);
  const floors = floorsOf([...lines, ...whole, ...large]);
  const text = report(lines, whole, large, floors, runs);
  process.stdout.write(text);
  if (values.out !== undefined) writeFileSync(values.out, text);
  return floors.every((floor) => holds(floor) || Number.isNaN(floor.value)) ? 0 : 1;
}

/** Every method has to come to the same sums, column by column, as ours on the same file. */
function verifySums(lines: readonly Line[]): void {
  for (const line of lines) {
    if (line.skipped !== undefined || line.id === 'memory') continue;
    const ours = lines.find((each) => each.file === line.file && each.id.startsWith('ours'))!;
    const off = differenceOfSums(line, ours);
    if (!(off <= SUM_TOLERANCE)) throw new Error(`${line.label}, ${line.file}: sums differ by ${off}`);
  }
  say(`column sums are equal within ${SUM_TOLERANCE}`);
}

function floorsOf(lines: readonly Line[]): Floor[] {
  const s = (id: string) => median(lines.find((line) => line.id === id)?.seconds ?? []);
  const peak = (id: string) => median(lines.find((line) => line.id === id)?.peak ?? []);
  const rows = (id: string) => lines.find((line) => line.id === id)?.rows ?? Number.NaN;
  // 1.3 x 8 bytes a decoded cell + 80 MB.
  const memory = (id: string) => (peak(id) * 1048576 - 80e6) / (rows(id) * WIDTH * 8);
  return [
    { what: 'papaparse streaming + Number / ours, 1 thread', value: s('papaparse') / s('ours'), atLeast: 5 },
    { what: 'DuckDB / ours, 1 thread', value: s('duckdb') / s('ours'), atLeast: 2.4 },
    { what: 'DuckDB / ours, 2 threads', value: s('duckdb-two') / s('ours-two'), atLeast: 2.4 },
    { what: 'Polars / ours, 1 thread', value: s('polars') / s('ours'), atLeast: 1.6 },
    { what: 'Polars / ours, 2 threads', value: s('polars-two') / s('ours-two'), atLeast: 1.6 },
    { what: 'ours, 1 thread / 2 threads, 100 MB', value: s('ours') / s('ours-two'), atLeast: 1.2 },
    { what: 'ours, 1 thread / 2 threads, 1 GB', value: s('ours-1g') / s('ours-two-1g'), atLeast: 1.5 },
    { what: 'decimal comma / plain', value: s('ours-comma') / s('ours'), atMost: 1.15 },
    { what: 'every cell quoted / plain', value: s('ours-quoted') / s('ours'), atMost: 1.5 },
    { what: '1 GB / 100 MB, time', value: s('ours-1g') / s('ours'), atMost: 11 },
    { what: '(peak memory − 80 MB) / (8 bytes × cells), 100 MB', value: memory('ours'), atMost: 1.3 },
    { what: '(peak memory − 80 MB) / (8 bytes × cells), 1 GB', value: memory('ours-1g'), atMost: 1.3 },
    { what: 'peak memory of a summary of 1 GB, MB', value: peak('ours-summary-1g') * 1.048576, atMost: 96 },
    { what: 'whole assess / whole columns, 100 MB', value: s('assess') / s('columns'), atMost: 1.6 },
    { what: 'papaparse + Number alone / whole assess', value: s('papaparse') / s('assess'), atLeast: 2 },
    { what: 'telltale --version / bare node', value: s('version') / s('node'), atMost: 1.4 },
    { what: 'telltale --help / bare node', value: s('help') / s('node'), atMost: 1.6 },
  ];
}

function report(lines: Line[], whole: Line[], large: Line[], floors: Floor[], runs: number): string {
  return `# Benchmark of reading logs

Made by \`npm run bench\`; data from a seed, ${WIDTH} columns, ${ROWS} rows in 100 MB, every column decoded. Each method ran
${runs} times in a process of its own, all in turn; medians. Column sums of all methods are equal. Absolute figures move from
machine to machine and with its load: compare ratios within one run. Node ${process.version}, ${availableParallelism()} cores
(${cpus()[0]?.model.trim() ?? 'unknown'}), load average ${loadavg()[2]!.toFixed(1)}: above the number of cores, threads and short runs are measured wrongly.

${lineTable(lines, 'ours')}

The row of the fresh memory is what a reader pays before it decodes anything: 8 bytes a cell, each page touched once.
Before each run as much memory as any method takes was touched and given back: the host of a virtual machine hands out
pages when they are first touched, which would fall on whichever method came first.

Whole commands, from start to end of the process:

${lineTable(whole, 'node').replace('times ours', 'times bare node')}
${large.length === 0 ? '' : `\n${lineTable(large, 'ours-1g')}\n`}
Floors that the project holds itself to:

${floorTable(floors)}
`;
}

const child = process.argv.indexOf('--child');
if (child > 0) await runChild(process.argv.slice(child + 1));
else process.exitCode = await main();
