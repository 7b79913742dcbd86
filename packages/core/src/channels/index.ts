export { CHANNELS } from './catalogue/index.js';
export type { ChannelDefinition, ChannelKind, ChannelSystem, PositionKind, Sentinel, Typical } from './definition.js';
export { channelDocs } from './docs.js';
export { inferGauge, inferSign, inferUnit, type UnitInference } from './inference.js';
export { type FoundChannel, findChannel, suggestChannel } from './lookup.js';
export type { Place } from './place.js';
export type { Positions } from './positions.js';
export { type ColumnHeading, type Recognition, recogniseColumn } from './recogniser.js';
export { STATES, type StateTable, stateLabel, stateValue } from './states.js';
