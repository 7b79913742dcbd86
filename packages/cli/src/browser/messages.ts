import type { ReportParts } from '@telltale/core';

/** What the page asks of its worker: once. */
export interface Job {
  readonly files: readonly File[];
  readonly redact: boolean;
  /** Rows per second of a log without a time column. */
  readonly rate?: number;
  /** The script of a report that is saved. */
  readonly script: string;
}

/** What the worker answers: progress, then one of the others. */
export type Answer =
  | { readonly kind: 'progress'; readonly share: number; readonly name: string }
  | {
      readonly kind: 'done';
      /** As `telltale assess --json` prints it. */
      readonly json: string;
      /** The report as a file of its own. */
      readonly page: string;
      readonly parts: ReportParts;
      /** Nothing could be judged: the errors of the inputs say why. */
      readonly unusable?: readonly string[];
    }
  | { readonly kind: 'refused'; readonly faults: readonly string[] };
