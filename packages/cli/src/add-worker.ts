import { parentPort } from 'node:worker_threads';
import { assessDrive, type DriveJob } from './commands/index.js';

/** Assesses one drive after the other for `track add`; what it holds is one drive at a time. */
parentPort?.on('message', (job: DriveJob) => {
  assessDrive(job).then(
    (answer) => parentPort?.postMessage({ answer }),
    (error: unknown) => parentPort?.postMessage({ failure: error instanceof Error ? error.message : String(error) }),
  );
});
