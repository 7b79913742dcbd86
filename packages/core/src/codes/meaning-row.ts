/** How serious a generic code is by itself, before anything in a recording is set against it. */
export type CodeSeverity = 'watch' | 'repair' | 'stop';

/** One line of a table: code, severity, rules (blank-separated ids), words. */
export type MeaningRow = readonly [code: string, severity: CodeSeverity, rules: string, text: string];
