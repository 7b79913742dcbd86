import { existsSync } from 'node:fs';
import { availableParallelism } from 'node:os';
import { fileURLToPath } from 'node:url';
import { Worker } from 'node:worker_threads';
import { assessDrive, type DriveAnswer, type DriveJob } from './assess-drive.js';

interface Message {
  readonly answer?: DriveAnswer;
  readonly failure?: string;
}

/**
 * Assesses drives on all cores, each core one drive at a time, so that memory does not grow with their number. With one core,
 * one drive, or without the bundle's worker it is this thread that works.
 */
export class Crew {
  private readonly workers: Worker[] = [];
  private readonly script: URL;
  private readonly size: number;

  constructor(drives: number, cores = availableParallelism(), script = new URL('./add-worker.js', import.meta.url)) {
    this.script = script;
    this.size = drives < 2 || cores < 2 || !existsSync(fileURLToPath(script)) ? 0 : Math.min(drives, cores);
  }

  /**
   * @param next the next drive, or undefined when there is none; not asked for again before the last one was answered
   * @param done called with each answer, one at a time
   */
  async run(
    next: () => Promise<DriveJob | undefined>,
    done: (job: DriveJob, answer: DriveAnswer) => Promise<void>,
  ): Promise<void> {
    const lanes = Math.max(1, this.size);
    // One after the other: jobs are handed out, and answers taken, in turn.
    let turn: Promise<unknown> = Promise.resolve();
    const inTurn = <T>(act: () => Promise<T>): Promise<T> => {
      const mine = turn.then(act);
      turn = mine.catch(() => undefined);
      return mine;
    };
    const lane = async (): Promise<void> => {
      const assessed = this.size === 0 ? assessDrive : this.helper();
      for (let job = await inTurn(next); job !== undefined; job = await inTurn(next)) {
        const mine = job;
        const answer = await assessed(mine);
        await inTurn(() => done(mine, answer));
      }
    };
    try {
      await Promise.all(Array.from({ length: lanes }, lane));
    } finally {
      for (const worker of this.workers) await worker.terminate();
    }
  }

  private helper(): (job: DriveJob) => Promise<DriveAnswer> {
    const worker = new Worker(this.script);
    this.workers.push(worker);
    return (job) =>
      new Promise((resolve, reject) => {
        const settle = (act: () => void): void => {
          worker.off('message', answered).off('error', failed).off('exit', ended);
          act();
        };
        const answered = ({ answer, failure }: Message): void =>
          settle(() => (answer === undefined ? reject(new Error(failure)) : resolve(answer)));
        const failed = (error: Error): void => settle(() => reject(error));
        const ended = (): void => settle(() => reject(new Error('a worker ended early')));
        worker.once('message', answered).once('error', failed).once('exit', ended);
        worker.postMessage(job);
      });
  }
}
