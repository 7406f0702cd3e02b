"""One question or one deed a module; which ones there are, by subject.

Each module opens with the question that it answers. ``records_io`` and ``sowing_book`` are folders.

names and codes
    code_register codes search named_places sold_names trade_words days
origins, lots, sowing
    stock_plants origin_list lots lot_list germination_tests repeats before_start sowing
    batch_start batch_list planned_sowings protection darwin_core
ferns and their times
    ferns fern_list starter_ferns usual_mixes outlooks past_outlooks stage_times stage_time_lines
    refits refit_rounds
looks, and what follows from them
    checks check_words glances evidence standing trays_on_day stage_claims proved_passages
    suspicion strays strikes strike_rights set_aside settling taking
a tray's deeds
    tray_life tray_page timeline picking picking_rules picking_undone filling leaving laid_out
    selecting yields ending moves keeping cares cares_in_brief holds
the stock book
    stock_book stock_check stock_row_ids
houses, benches, media, treatments
    houses bench_drafts bench_map map_filters shared_rows free_places media readings winter
    treatments shut_places examinations
what is to do
    today overdue overdue_elsewhere due_entries this_week weeks_trays work_shares weekly_note
    calendars
how it went, what comes
    survival_rates survival_groups failing_trays forecasting past_forecasts sowing_planner
    sowing_needs green_share green_line photos
orders and what leaves
    orders order_list order_outlooks orders_leaving availability dispatching dispatch_list
    passports passport_register
trails
    trace trace_starts trail_ahead trail_sums trail_words drills
tablets
    bench_day bench_people bench_words devices tablet_watch syncing sync_faults sync_items
    sync_deeds sync_strikes sync_waiting sync_photos plain_looks waiting_file generation
people, settings, languages
    people session_limits throttle secrets_of_links own_settings language change_notes
    stored_forms first_steps
labels
    label_log label_stocks
records in and out, copies
    records_io sowing_book backup backup_file copies copy_comparison restore safekeeping
    moving_database other_database demo demo_shift data_folder
the server and its network
    serving server_config static_files joined_files package_files network_https lan_names
    local_authority server_certificate device_profile checkup upkeep_rounds upkeep_notes installed
"""
