-- ride_statistics: one row a ride that gears were measured from: all that measuring further rides
-- beside it takes. Lists of gears follow fitted_ladders, those of spells each other.
create table ride_statistics (
    ride text primary key,
    seconds double[] not null,
    metres double[] not null,
    spell_gears integer[] not null,
    spell_ln_developments double[] not null,
    spell_sds double[] not null,
    spell_biases double[] not null,
    spell_gaining_hz double[] not null,
    spell_gaining_turns double[] not null,
    usual_sd double not null,
    second_share double not null,
    second_mps2 double not null,
    bias_mps double not null
);
comment on table ride_statistics is 'what gears are measured by, without the samples; one row a ride that gears were measured from';
comment on column ride_statistics.ride is 'ride [hexadecimal]';
comment on column ride_statistics.seconds is 'time engaged and coupled in each gear of fitted_ladders [s]';
comment on column ride_statistics.metres is 'distance engaged and coupled in each gear [m]';
comment on column ride_statistics.spell_gears is 'gear of each spell, the lowest is 0 [index]';
comment on column ride_statistics.spell_ln_developments is 'ln(metres per crank turn), mean of each spell [1]';
comment on column ride_statistics.spell_sds is 'standard error of that, from the scatter within the spell [1]';
comment on column ride_statistics.spell_biases is 'what other spells of the same gear are off by as well [1]';
comment on column ride_statistics.spell_gaining_hz is 'mean slope of ln(speed) during the spell [1/s]';
comment on column ride_statistics.spell_gaining_turns is 'the same times the time of a crank turn beyond the usual one [1]';
comment on column ride_statistics.usual_sd is 'noise of a sample, all causes together, in ln(development) [1]';
comment on column ride_statistics.second_share is 'variance of ln(development) in one second of pedalling, NaN where nothing was driven [1]';
comment on column ride_statistics.second_mps2 is 'variance of the speed over one second, NaN likewise [m²/s²]';
comment on column ride_statistics.bias_mps is 'what the speed may be off by throughout [m/s]';
