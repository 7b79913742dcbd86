import { existsSync } from 'node:fs';
import { availableParallelism } from 'node:os';
import { setImmediate } from 'node:timers/promises';
import { fileURLToPath } from 'node:url';
import { setFlagsFromString } from 'node:v8';
import { Worker } from 'node:worker_threads';
import type { ChunkFlags, ObservationAnswer, ObservationHelper, ObservationJob, ReadingHelper } from '@telltale/core';
import { FilePart, ownFileBytes } from './file-bytes.js';
import type { SecondThreadAnswer, SecondThreadJob, SecondThreadQuestion } from './scan-worker.js';

/** Bytes of a file below which a second thread costs more than it saves (measured: about 64 MB). */
const MINIMUM = 64e6;

/**
 * Settings of V8, read by it whenever it compiles, for rules that run in both threads of two cores: nothing is left to compile
 * beside them (15 % of the time, measured).
 */
const RULE_SETTINGS = ['--no-concurrent-recompilation', '--no-concurrent-osr'];
/**
 * How far the heap may grow between two collections of garbage (a factor of 6; default 4 and less). The rules make arrays as long
 * as the log, and few objects: marking the heap each time anew takes 6 % of the time, measured.
 */
const GARBAGE_SETTING = '--heap-growing-percent=500';

/** A second thread for one large file; undefined where there is no second core, or the worker is not beside the bundle. */
export function secondThread(
  path: string,
  size: number,
  script: URL = new URL('./scan-worker.cjs', import.meta.url),
): SecondThread | undefined {
  if (size < MINIMUM || availableParallelism() < 2 || !existsSync(fileURLToPath(script))) return undefined;
  return new SecondThread(path, script);
}

/** Ends where the file system fails: it is the first reading of the file that tells. */
async function* readable(bytes: AsyncIterable<Uint8Array>): AsyncGenerator<Uint8Array> {
  try {
    yield* bytes;
  } catch (error) {
    if ((error as NodeJS.ErrnoException).syscall === undefined) throw error;
  }
}

/** One worker thread that reads a file in turn with the first, then observes rules. It starts when it is first needed. */
export class SecondThread {
  private worker: Worker | undefined;
  /** The first thread reads, with its help; what it was asked may be answered later. */
  private reading = false;
  private questions = 0;
  /** Questions that each worker has not answered yet. */
  private readonly open = new WeakMap<Worker, Set<number>>();
  private readonly observer: string;

  constructor(
    private readonly path: string,
    private readonly script: URL,
    private readonly minimum: number = MINIMUM,
  ) {
    this.observer = new URL('./observe-worker.js', script).href;
  }

  /**
   * The thread as the reader sees it.
   * @param then whether rules will be observed: else reading is all, and ends it
   * @param reached told up to which byte the file is known, more than once
   */
  forReading(then: boolean, reached?: (byte: number) => void): ReadingHelper {
    const file = new FilePart(this.path);
    const told = (from: number) => {
      let at = from;
      return (count: number) => {
        at += count;
        reached?.(at);
      };
    };
    return {
      bytes: (from) => readable(ownFileBytes(this.path, told(from), from)),
      fill: file.fill,
      turn: () => setImmediate(),
      ...(reached === undefined ? {} : { reached }),
      minimum: this.minimum,
      warm: () => void this.started(),
      scan: (job) => {
        this.reading = true;
        return this.ask<ChunkFlags | undefined>({ scan: job, then });
      },
      close: () => {
        this.reading = false;
        file.close();
        if (!then) this.close();
      },
    };
  }

  /** The thread as the rules see it. */
  forRules(): ObservationHelper {
    return {
      observe: (job: ObservationJob) => {
        setFlagsFromString(GARBAGE_SETTING);
        if (availableParallelism() === 2) for (const setting of RULE_SETTINGS) setFlagsFromString(setting);
        return this.ask<ObservationAnswer[]>({ observe: job });
      },
      close: () => this.close(),
    };
  }

  /** Ends it if it reads, because who waits for it wants to stop; rules, which take seconds, are let to their end. */
  halt(): void {
    if (this.reading) this.close();
  }

  private started(): Worker {
    if (this.worker === undefined) {
      const workerData = { path: this.path, observer: this.observer };
      // It prints nothing: the streams of this process need not be opened for it.
      const worker = new Worker(this.script, { workerData, stdout: true, stderr: true });
      // A failure is met by who asked; nobody waits for an idle worker. Who asks after it gets another one.
      worker.on('error', () => undefined);
      worker.once('exit', () => {
        if (this.worker === worker) this.worker = undefined;
      });
      worker.unref();
      this.worker = worker;
    }
    return this.worker;
  }

  private ask<Answer>(job: SecondThreadJob): Promise<Answer> {
    const worker = this.started();
    worker.ref();
    const question = ++this.questions;
    return new Promise((resolve, reject) => {
      const open = this.open.get(worker) ?? new Set();
      this.open.set(worker, open.add(question));
      const settle = (act: () => void) => {
        worker.off('message', answered).off('error', failed).off('exit', ended);
        open.delete(question);
        // Another question may still be waited for: the process must not end meanwhile.
        if (open.size === 0) worker.unref();
        act();
      };
      // What was asked before may still be answered, though nobody waits for it any more.
      const answered = (told: SecondThreadAnswer) => {
        if (told.question === question) settle(() => resolve(told.answer as Answer));
      };
      const failed = (error: Error) => settle(() => reject(error));
      const ended = () => settle(() => reject(new Error('the second thread ended early')));
      worker.on('message', answered).once('error', failed).once('exit', ended);
      worker.postMessage({ question, job } satisfies SecondThreadQuestion);
    });
  }

  close(): void {
    void this.worker?.terminate();
    this.worker = undefined;
  }
}
