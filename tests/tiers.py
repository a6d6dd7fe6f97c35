"""Which tests run when: quick between two edits, the rest by default, thorough ones in ``.ci/run`` only."""

from __future__ import annotations

# ``-m quick``: of each room the tests without studies, browsers and processes; under 20 s on two idle cores.
QUICK = [
    "analysis/test_edges_and_zeros",
    "analysis/test_local",
    "antennas/test_kinds",
    "antennas/test_wire_lines",
    "cli/test_convert",
    "comparison/test_fairness",
    "diagnosis/test_signatures",
    "feedline/test_chain",
    "feedline/test_losses",
    "feedline/test_misfit",
    "feedline/test_over_delays",
    "feedline/test_propagation",
    "logbook/test_log_editing",
    "logbook/test_log_values",
    "plots/test_look",
    "published/test_core_values",
    "readers/test_printed_step",
    "readers/test_touchstone_cases",
    "report/test_card",
    "report/test_headline",
    "reviews/test_summary",
    "trim/test_folds_and_wire",
    "trim/test_request",
    "test_conversions",
    "test_figures",
    "test_instrument",
    "test_limits",
    "test_lines",
    "test_values",
]

# ``-m thorough``: rates over many trials, browsers, processes that are killed: two thirds of the time, in a twentieth
# of the tests. A whole file, a test, or one case of it; the default run keeps a smaller one of each kind.
THOROUGH = [
    "cli/test_compare::test_sites_of_the_sample_outings",
    "cli/test_hostile::test_bytes_that_are_no_text",
    "cli/test_hostile::test_odd_sweeps_get_an_answer_or_a_reason",
    "cli/test_hostile::test_pages_pictures_and_tables",
    "cli/test_review::test_text_fits_on_forty_columns",
    "cli/test_streams::test_a_closed_stderr_and_letters_that_cannot_be_encoded_change_no_code",
    "cli/test_streams::test_an_interrupt_ends_with_130_and_no_half_file[0.05]",
    "cli/test_streams::test_files_are_written_whatever_becomes_of_stdout",
    "cli/test_streams::test_nonsense_for_a_drawing_window_is_no_matter",
    "comparison/test_modelled_setups",
    "comparison/test_variance::test_shift_scale_and_order_of_labels",
    "comparison/test_verdicts::test_alike_setups_are_beyond_their_rung_in_one_of_twenty",
    "comparison/test_verdicts::test_sites_that_differ_as_sites_do_are_no_ghosts",
    "comparison/test_verdicts::test_the_difference_of_two_sites_holds_the_true_one_and_so_do_their_means",
    "coverage/test_coverage",
    "diagnosis/test_change::test_unchanged_sweeps_are_called_changed_no_more_often_than_said",
    "diagnosis/test_diagnose_cli::test_the_page_shows_what_its_commands_print",
    "diagnosis/test_faults",
    "feedline/test_measure::test_an_antenna_left_on_the_line_is_named",
    "logbook/test_log_damaged::test_an_export_killed_at_any_step_loses_neither",
    "logbook/test_log_damaged::test_flipped_bits_cost_at_most_the_sweep_they_hit",
    "logbook/test_log_full_disk",
    "logbook/test_log_never_lost::test_killed_at_every_statement",
    "logbook/test_log_never_lost::test_the_write_that_passes_a_limit",
    "plots/test_many::test_an_overlay_is_readable_at_one_to_twelve_curves",
    "plots/test_saving::test_the_ending_decides_and_the_same_figure_gives_the_same_bytes",
    "readers/test_large_and_mutated",
    "readers/test_sign_recovery::test_noisy_rounded_sweeps_behind_line_are_right_or_refused",
    "report/test_hostile_in_browser",
    "report/test_other_pages_in_browser",
    "report/test_page_in_browser",
    "reviews/test_health::test_bursts_are_found_and_do_not_move_the_dip",
    "reviews/test_health::test_bursts_do_not_spoil_sweeps_without_phase",
    "reviews/test_odd_sweeps::test_magnitudes_alone_give_the_same_dip_and_edges",
    "reviews/test_repeats::test_a_burst_in_one_repeat_does_not_spoil_the_answer",
    "reviews/test_repeats::test_repeats_carry_their_spread_into_the_interval",
    "reviews/test_repeats::test_two_repeats_hold_the_truth_and_say_less",
    "several_bands/test_one_wire::test_earlier_sweeps_sharpen_every_band",
    "test_figures::test_one_more_draw_falls_inside_with_95_percent",
    "test_kit::test_a_spoilt_kit_is_read_or_refused_with_its_line_and_never_crashes",
    "test_notebook",
    "test_page_commands",
    "test_sample_sweeps::test_all_outings_go_into_a_logbook_as_the_document_says",
    "trim/test_modelled_antennas",
]
DEFAULT_ALL_THE_SAME = [  # small ones of what is thorough
    "cli/test_streams::test_files_are_written_whatever_becomes_of_stdout[gone]",
    "feedline/test_measure::test_an_antenna_left_on_the_line_is_named[unknown-dipole_40m]",
    "logbook/test_log_damaged::test_an_export_killed_at_any_step_loses_neither[rename-1]",
    "plots/test_many::test_an_overlay_is_readable_at_one_to_twelve_curves[12]",
    "report/test_hostile_in_browser::test_a_hostile_file_name_in_every_page_and_drawing[trim]",
    "report/test_page_in_browser::test_a_hostile_file_runs_nothing",
    "report/test_page_in_browser::test_nothing_sticks_out_of_the_page[360]",
]


def tier_of(module: str, name: str) -> str | None:
    """``quick`` or ``thorough`` for a test of ``module`` (``cli/test_review``), else nothing."""
    if module in QUICK:
        return "quick"
    whole = f"{module}::{name}"
    names = {module, whole, whole.split("[")[0]}
    return "thorough" if names & set(THOROUGH) and whole not in DEFAULT_ALL_THE_SAME else None
