import type { Drive } from '../derived/recipe.js';
import type { Figure, Mark, Panel } from './figure.js';
import { type PhaseRow, phaseRows } from './phases.js';
import { channelSource, type Source } from './source.js';
import { bridged, gridOf, thinned } from './thinning.js';

/** One whole recording at a glance. */
export interface DriveOverview {
  readonly input: number;
  readonly figure: Figure;
  readonly phases: readonly PhaseRow[];
}

/** What everybody asks first of a drive, top to bottom. */
const PANELS: readonly (readonly string[])[] = [
  ['vehicleSpeed'],
  ['engineSpeed'],
  ['coolantTemperature', 'engineOilTemperature', 'transmissionOilTemperature', 'clutchOilTemperature'],
  ['pedalPosition', 'pedalPositionRelative', 'throttlePosition'],
];

/** The whole drive with its phases and the marks of all findings; undefined when none of its channels is recorded. */
export function overviewOf(drive: Drive, marks: readonly Mark[], most: number): DriveOverview | undefined {
  const { time, input, recording } = drive;
  const panels = PANELS.map((ids) => ids.flatMap((id) => sourceOf(drive, id)))
    .map((sources, k) => (k === 3 ? sources.slice(0, 1) : sources))
    .filter((sources) => sources.length > 0);
  const first = panels[0];
  if (first === undefined || recording.rows < 2) return undefined;
  const grid = gridOf(time, time[0]!, time[time.length - 1]!, most);
  return {
    input,
    phases: phaseRows(drive.slow),
    figure: {
      id: `drive-${input + 1}`,
      title: 'The whole drive',
      input,
      time: Array.from(grid.time),
      step: grid.step,
      panels: panels.map(
        (sources): Panel => ({
          unit: sources[0]!.unit,
          limits: [],
          traces: sources.map(({ id, name, drawn, bridge, values }) => ({
            id,
            name,
            drawn,
            bridge: bridged(bridge, grid),
            values: thinned(values, grid),
          })),
        }),
      ),
      marks,
    },
  };
}

function sourceOf(drive: Drive, id: string): Source[] {
  const channel = drive.channel(id) ?? drive.family(id)[0];
  const source = channel === undefined ? undefined : channelSource(drive, channel);
  return source === undefined ? [] : [source];
}
