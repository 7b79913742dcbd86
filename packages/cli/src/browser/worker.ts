// What judges the files, away from the page's own thread. The same steps as the command line takes.
import {
  type AssessOptions,
  assess,
  assessmentPage,
  type Drive,
  type InputFile,
  planFor,
  plotsOf,
  RULES,
  readColumnMap,
  readPrices,
  readSheet,
  readVehicle,
  redact,
  reportParts,
  type SideFile,
  sideFileKind,
  toJson,
  UNKNOWN_VEHICLE,
} from '@telltale/core';
import type { Answer, Job } from './messages.js';

/** Side files are small; anything else of these kinds is no side file. */
const SIDE = { name: /\.(?:ya?ml|json)$/i, most: 1_000_000 } as const;
/** Milliseconds between two words of progress. */
const PACE = 100;

type Sides = Pick<AssessOptions, 'vehicle' | 'map' | 'sheet' | 'prices'>;

const answer = (message: Answer): void => postMessage(message);

addEventListener('message', ({ data }: MessageEvent<Job>) => {
  work(data).catch((error: unknown) => {
    const what = error instanceof Error ? error.message : String(error);
    answer({ kind: 'refused', faults: [`internal: ${what}; please report it`] });
  });
});

async function work({ files, redact: wanted, rate, script }: Job): Promise<void> {
  // Code units: the order in which the command line takes the files of a folder.
  const ordered = [...files].sort((a, b) => (a.name < b.name ? -1 : a.name > b.name ? 1 : 0));
  const { logs, sides, faults } = await separated(ordered);
  if (faults.length > 0) {
    answer({ kind: 'refused', faults });
    return;
  }
  if (logs.length === 0)
    return answer({
      kind: 'refused',
      faults: ['no recording among the files: add a log (CSV), stored values or a code list'],
    });
  const total = logs.reduce((sum, { size }) => sum + size, 0);
  let read = 0;
  let told = 0;
  let name = '';
  const onBytes = (count: number): void => {
    read += count;
    if (performance.now() - told < PACE) return;
    told = performance.now();
    answer({ kind: 'progress', share: Math.min(1, read / total), name });
  };
  const drives: Drive[] = [];
  const options: AssessOptions = {
    ...sides,
    ...(rate === undefined ? {} : { rate }),
    onDrive: (drive) => void drives.push(drive),
    onProgress: (_done, _total, file) => {
      name = file;
    },
  };
  const assessment = await assess(
    logs.map((file): InputFile => ({ name: file.name, size: file.size, source: pieces(file, onBytes) })),
    options,
  );
  answer({ kind: 'progress', share: 1, name: '' });
  const shown = wanted ? redact(assessment) : assessment;
  const plots = plotsOf(shown, drives, RULES);
  const page = {
    rules: RULES,
    plots,
    plan: planFor({ ...(sides.vehicle ?? UNKNOWN_VEHICLE), id: shown.vehicle.id }, shown),
    script,
  };
  const errors = shown.inputs.flatMap(({ file, error: { message } = { message: '' } }) =>
    message === '' ? [] : [message.startsWith(file) ? message : `${file}: ${message}`],
  );
  answer({
    kind: 'done',
    json: toJson(shown),
    page: assessmentPage(shown, page),
    parts: reportParts(shown, page),
    ...(errors.length === shown.inputs.length ? { unusable: errors } : {}),
  });
}

/** Side files by the schema that they name, of two of a kind the first; everything else is there to be judged. */
async function separated(files: readonly File[]): Promise<{ logs: File[]; sides: Sides; faults: string[] }> {
  const logs: File[] = [];
  const faults: string[] = [];
  const sides: { -readonly [K in keyof Sides]: Sides[K] } = {};
  const take = <T>(side: SideFile<T>, keep: (value: T) => void): void => {
    if (side.ok) keep(side.value);
    else faults.push(...side.faults.map(({ message }) => message));
  };
  for (const file of files) {
    const text = SIDE.name.test(file.name) && file.size <= SIDE.most ? await file.text() : '';
    const kind = sideFileKind(text);
    if (kind === undefined) {
      logs.push(file);
      continue;
    }
    if (sides[kind] !== undefined) continue;
    if (kind === 'vehicle') take(readVehicle(text, file.name), (value) => (sides.vehicle = value));
    else if (kind === 'map') take(readColumnMap(text, file.name), (value) => (sides.map = value));
    else if (kind === 'sheet') take(readSheet(text, file.name), (value) => (sides.sheet = value));
    else take(readPrices(text, file.name), (value) => (sides.prices = value));
  }
  return { logs, sides, faults };
}

/** Not every browser lets a stream be iterated; every one has its reader. */
async function* pieces(file: File, onBytes: (count: number) => void): AsyncGenerator<Uint8Array> {
  const reader = file.stream().getReader();
  try {
    for (let step = await reader.read(); !step.done; step = await reader.read()) {
      onBytes(step.value.length);
      yield step.value;
    }
  } finally {
    await reader.cancel().catch(() => undefined);
  }
}
