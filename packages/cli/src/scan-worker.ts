import { parentPort, workerData } from 'node:worker_threads';
import { type RegionJob, scanRegion } from '@telltale/core';
import { fileBytes } from './file-bytes.js';

/** The second thread: reads one region of the file that it was started for, answers, and ends. */
parentPort!.once('message', async (job: RegionJob) => {
  parentPort!.postMessage(await scanRegion(job, fileBytes(workerData as string, undefined, job.from)));
});
