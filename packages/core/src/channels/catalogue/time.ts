import { type ChannelDefinition, definer, wordEnd } from '../definition.js';

const c = definer('time');

/** Time axes. */
export const TIME: readonly ChannelDefinition[] = [
  c(
    'time',
    's',
    [-1e13, 1e13],
    'time (stamp) (elapsed) (log) (relative) | timestamp (log) | elapsed time | date time | datetime | clock (time) | elapsed | log time | time of day | recording time | sample time | measurement time | seconds | milliseconds | cycle seconds | ?t | ?cycle | cycle time | utc (time) | local time | time utc | gps time | session time | trip time | ?log | ?elapsed | ?sample | minutes',
    'Time of the sample',
    { kind: 'time' },
  ),
  c('date', '1', [-1e13, 1e13], 'date | log date | date utc | recording date', 'Day of the sample', { kind: 'time' }),
  c(
    'engineRunTime',
    's',
    [0, 1e7],
    'engine run time | engine runtime | run time (engine) | time since engine start | runtime since engine start | engine running time | run time since engine start | time since start (engine) | engine on time | runtm | runtime',
    'Time since engine start; usable as time',
    { kind: 'time', resolution: 1, pid: '1F', sentinels: wordEnd('s'), rate: 2 },
  ),
];
