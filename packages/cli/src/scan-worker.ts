import { closeSync, openSync, readSync } from 'node:fs';
import { parentPort, workerData } from 'node:worker_threads';
import { type RegionJob, type RegionResult, scanRegion } from '@telltale/core';
import { ownFileBytes } from './file-bytes.js';

/** What the second thread can be asked: to read one region of the file that it was started for, then to observe rules. */
export type SecondThreadJob =
  | { readonly scan: RegionJob; readonly then: boolean }
  | { readonly observe: import('@telltale/core').ObservationJob };

/** Questions are numbered, so that each gets its own answer. */
export interface SecondThreadQuestion {
  readonly question: number;
  readonly job: SecondThreadJob;
}

export interface SecondThreadAnswer {
  readonly question: number;
  readonly answer: unknown;
}

const { path, observer } = workerData as { readonly path: string; readonly observer: string };
/** What observe-worker.ts exports. */
type Observing = Pick<typeof import('@telltale/core'), 'observeShare'>;
let observing: Promise<Observing> | undefined;
// The rules are a large program of their own: loaded when the reading is done, while the first thread builds the recording.
const load = (): Promise<Observing> => (observing ??= import(observer));

async function readShare(job: RegionJob): Promise<RegionResult> {
  const file = openSync(path, 'r');
  try {
    return await scanRegion(job, {
      pieces: (from) => ownFileBytes(path, undefined, from),
      fill: (into, from) => readSync(file, into, 0, into.length, from),
    });
  } finally {
    closeSync(file);
  }
}

parentPort!.on('message', async ({ question, job }: SecondThreadQuestion) => {
  const say = (answer: unknown) => parentPort!.postMessage({ question, answer } satisfies SecondThreadAnswer);
  if ('scan' in job) {
    say(await readShare(job.scan));
    if (job.then) load().catch(() => undefined);
  } else say((await load()).observeShare(job.observe));
});
