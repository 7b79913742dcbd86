import { existsSync } from 'node:fs';
import { availableParallelism } from 'node:os';
import { fileURLToPath } from 'node:url';
import { Worker } from 'node:worker_threads';
import type { RegionHelper, RegionJob, RegionResult } from '@telltale/core';

/** Bytes of a file below which a second thread costs more than it saves (measured: about 64 MB). */
const MINIMUM = 64e6;

/** A second thread for one large file; undefined where there is no second core, or the worker is not beside the bundle. */
export function secondThread(
  path: string,
  size: number,
  script: URL = new URL('./scan-worker.js', import.meta.url),
): RegionHelper | undefined {
  if (size < MINIMUM || availableParallelism() < 2 || !existsSync(fileURLToPath(script))) return undefined;
  return new WorkerHelper(path, script);
}

export class WorkerHelper implements RegionHelper {
  private worker: Worker | undefined;

  constructor(
    private readonly path: string,
    private readonly script: URL,
    readonly minimum: number = MINIMUM,
  ) {}

  warm(): void {
    this.worker ??= new Worker(this.script, { workerData: this.path });
    // A failure is met by `scan`; nobody waits for an idle worker.
    this.worker.on('error', () => undefined);
    this.worker.unref();
  }

  scan(job: RegionJob): Promise<RegionResult> {
    this.warm();
    const worker = this.worker!;
    worker.ref();
    return new Promise((resolve, reject) => {
      worker.once('message', resolve);
      worker.once('error', reject);
      worker.once('exit', () => reject(new Error('the second thread ended early')));
      worker.postMessage(job);
    });
  }

  close(): void {
    void this.worker?.terminate();
    this.worker = undefined;
  }
}
