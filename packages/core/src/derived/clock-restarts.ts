import { recipe } from './recipe.js';

export interface ClockRestarts {
  /** Seconds of recording time of the first row after each place where the clock of the file starts again; ascending. */
  readonly at: readonly number[];
}

export const CLOCK_RESTARTS = recipe<ClockRestarts>({
  id: 'clockRestarts',
  about:
    'Places where the clock of the file starts again, as when two recordings stand in one file; what lies across one of them says nothing about the other side.',
  compute(drive) {
    const at = drive.recording.problems
      .filter(({ code, from }) => code === 'time-restart' && from !== undefined)
      .map(({ from }) => from!)
      .sort((a, b) => a - b);
    return { at };
  },
});
