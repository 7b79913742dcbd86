import { parentPort, workerData } from 'node:worker_threads';
import { type ChunkJob, readChunks } from '@telltale/core';
import { FilePart } from './file-bytes.js';

/** What the second thread can be asked: to read chunks of the file that it was started for, then to observe rules. */
export type SecondThreadJob =
  | { readonly scan: ChunkJob; readonly then: boolean }
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

function readShare(job: ChunkJob) {
  const file = new FilePart(path);
  try {
    return readChunks(job, file.fill);
  } finally {
    file.close();
  }
}

parentPort!.on('message', async ({ question, job }: SecondThreadQuestion) => {
  const say = (answer: unknown) => parentPort!.postMessage({ question, answer } satisfies SecondThreadAnswer);
  if ('scan' in job) {
    say(readShare(job.scan));
    if (job.then) load().catch(() => undefined);
  } else say((await load()).observeShare(job.observe));
});
