import type { InputFault } from '../recording/problem.js';
import type { IngestCode } from './code.js';

/** Carries an {@link InputFault} out of the depth of the reading; never leaves this folder. */
export class Fault extends Error {
  readonly fault: InputFault;

  constructor(code: IngestCode, message: string, line?: number, column?: number) {
    super(message);
    this.fault = {
      code,
      message,
      ...(line === undefined ? {} : { line }),
      ...(column === undefined ? {} : { column }),
    };
  }
}
