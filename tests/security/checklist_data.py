"""The lines of the checklist about rights, keys, words and logs: chapters 8 to 17."""

from __future__ import annotations

from tests.security.checklist_lines import (
    ACCOUNTS,
    BAD,
    CANARIES,
    COMPLETE,
    CROSSINGS,
    ENVIRONMENT,
    GUARDS,
    HEADERS,
    INVITED,
    MARKUP,
    MATRIX,
    OIDC,
    OUT,
    SIGNING,
    STATIC,
    Line,
    held,
    no_meaning,
    not_held,
)

OF_DATA: tuple[Line, ...] = (
    # --- V8: authorisation
    held(
        "8.1.1, 8.1.2",
        "who may do what is written down for every route",
        f"{COMPLETE}::test_every_route_has_a_row_and_every_row_a_route",
        f"{COMPLETE}::test_every_view_declares_its_policy_or_stands_on_the_list_with_a_reason",
    ),
    held(
        "8.2.1, 8.2.2",
        "and is so, also with ids crossed",
        f"{MATRIX}::test_each_cell_is_as_the_table_says",
        f"{CROSSINGS}::test_no_id_is_taken_for_a_row_that_is_not_meant",
        f"{CROSSINGS}::test_an_id_of_another_kind_is_as_good_as_missing",
        "security/test_provider_routes.py::test_each_route_of_the_provider_is_as_the_table_says",
    ),
    held(
        "8.2.3, 15.3.3",
        "nobody writes a field that no form was given",
        f"{OUT}::test_no_form_takes_its_fields_from_a_model",
        "web/account/test_settings_page.py::test_nobody_makes_themselves_an_administrator",
    ),
    held(
        "8.3.1",
        "rules are kept at the server, and none can be left out unnoticed",
        f"{GUARDS}::test_without_a_door_the_matrix_goes_red",
        f"{GUARDS}::test_each_actor_finds_what_the_roles_say_and_without_the_guard_more",
        f"{CROSSINGS}::test_without_the_check_the_crossing_goes_red",
    ),
    held(
        "8.3.2, 8.3.3",
        "a change of rights counts at once, for jobs too",
        "services/lines/test_lines.py::test_the_manager_loses_an_ended_line_and_the_report_keeps_its_closed_records",
        "services/notices/test_mail_sending.py::test_rights_and_wishes_are_looked_at_again",
    ),
    held(
        "8.4.1",
        "one pair sees nothing of another",
        f"{MATRIX}::test_each_cell_is_as_the_table_says",
        "models/test_row_level_security.py::test_a_reader_sees_their_own_rows_and_no_others",
    ),
    no_meaning(
        "8.4.2",
        "an interface of administration of its own",
        "administrators act on the pages; no row is edited past the services",
    ),
    # --- V9, V10: tokens and the provider
    held(
        "9.1.1, 9.2.1, 9.2.2",
        "tokens are kept as hashes, for one purpose, and can be withdrawn",
        f"{INVITED}::test_the_token_is_kept_as_a_hash_only",
        f"{INVITED}::test_withdrawing_stops_the_link_at_once",
    ),
    held(
        "10.2.1, 10.5.1, 10.5.2, 10.5.4",
        "an answer of the provider is bound to its request, and somebody is their subject",
        f"{OIDC}::test_the_request_to_the_provider_is_bound_to_this_browser",
        f"{OIDC}::test_an_answer_to_another_request_is_refused",
        f"{OIDC}::test_an_address_that_somebody_has_here_opens_nothing",
    ),
    # --- V11: cryptography
    held(
        "11.1.1, 11.2.2",
        "keys can be renewed, and formats told apart",
        "services/upkeep/test_key_renewal.py::test_after_rewrapping_the_older_key_can_be_taken_away",
        "sealed/test_blob.py::test_a_format_not_known_is_told_apart",
    ),
    not_held(
        "11.1.2", "an inventory of what is used where is written down", "the code says it, no document does"
    ),
    held(
        "11.3.2, 11.3.3",
        "what was changed does not open",
        "sealed/test_blob.py::test_one_changed_bit_anywhere_is_noticed",
        "sealed/test_blob.py::test_a_blob_moved_elsewhere_does_not_open",
    ),
    held(
        "11.4.2",
        "passwords are stretched by today's measure",
        f"{SIGNING}::test_passwords_are_stretched_as_is_advised_today",
    ),
    held(
        "11.5.1",
        "what must not be guessed is random enough",
        f"{INVITED}::test_two_invitations_have_two_tokens",
        "sealed/test_wrapping.py::test_fresh_keys_differ",
    ),
    # --- V12, V13: connections and configuration
    held(
        "12.2.1", "browsers come by TLS", f"{HEADERS}::test_over_tls_cookies_and_the_browser_are_bound_to_it"
    ),
    not_held(
        "12.3.1, 12.3.2",
        "TLS to everything else, certificates checked",
        "to the mail server and the provider; to PostgreSQL and Redis as the operator's address says",
        f"{ENVIRONMENT}::test_tls_is_used_unless_it_is_said_otherwise",
    ),
    held(
        "13.2.2, 13.2.3",
        "the database gives each process what it needs",
        "models/test_jobs_role.py::test_every_job_runs_under_it",
        "models/test_jobs_role.py::test_it_reads_no_column_of_a_private_table_but_those_retention_goes_by",
        "models/test_row_level_security.py::test_every_private_table_has_a_policy_that_also_holds_for_its_owner",
    ),
    held(
        "13.3.1, 13.3.2",
        "keys lie outside the sources and the database, for their owner's eyes",
        "serving/test_datafolder.py::test_a_new_folder_gets_keys_that_only_its_owner_reads",
        "services/private/test_keys.py::test_a_copy_of_the_database_without_the_key_outside_it_opens_nothing",
    ),
    held(
        "13.4.1 to 13.4.5",
        "nothing of the making is served, and no TRACE",
        f"{MATRIX}::test_each_cell_is_as_the_table_says",
        f"{CANARIES}::test_private_words_are_nowhere_but_on_their_authors_pages",
        f"{COMPLETE}::test_no_application_is_installed_that_shows_rows_past_the_doors",
    ),
    # --- V14: data
    held(
        "14.1.1, 14.1.2, 14.2.4",
        "every table says how private it is, and is kept so",
        f"{COMPLETE}::test_every_model_says_whether_it_is_shared_private_or_of_the_system",
        f"{CANARIES}::test_private_words_are_nowhere_but_on_their_authors_pages",
    ),
    held(
        "14.2.1",
        "nothing private is in an address",
        f"{CANARIES}::test_private_words_are_nowhere_but_on_their_authors_pages",
        "web/private/test_search.py::test_nothing_of_a_search_stays_anywhere",
        "web/test_logs.py::test_a_refused_invitation_leaves_no_token_in_what_is_written",
    ),
    held(
        "14.2.2, 14.3.2",
        "no cache keeps a page",
        f"{OUT}::test_every_answer_says_what_it_is_to_this_site_alone_and_is_not_kept",
    ),
    held(
        "14.2.3",
        "nothing is fetched from elsewhere",
        "web/test_styles.py::test_nothing_is_fetched_from_elsewhere",
        "web/test_styles.py::test_every_script_is_loaded_and_keeps_to_itself",
    ),
    held(
        "14.2.6",
        "pages about others give no more than they must",
        "web/cadence/test_cadence.py::test_no_class_of_it_has_a_field_for_content",
        "web/cadence/test_cadence_pictures.py::test_the_table_has_dates_only",
    ),
    held("14.3.1", "what a browser keeps goes at signing out", f"{SIGNING}::test_signing_out_takes_an_act"),
    not_held(
        "14.3.3",
        "no words in a browser's own storage",
        "one script keeps which button had the focus; storage is not searched for words in a browser",
    ),
    # --- V15: code
    not_held(
        "15.1.1, 15.1.2, 15.2.1",
        "parts are listed, and mended in time",
        "two lock files list them; no time for mending is written down",
    ),
    held(
        "15.1.3, 15.2.2",
        "what is costly is bounded",
        "selectors/private/test_note_search.py::test_a_search_that_finds_much_stops_and_says_so",
        "tasks/test_schedule.py::test_a_run_is_bounded_and_says_that_there_is_more",
        f"{MARKUP}::test_twice_the_text_takes_no_more_than_twice_the_steps",
    ),
    no_meaning(
        "15.2.3", "no test code in what is given out", "no package is built; a server runs from the sources"
    ),
    held(
        "15.3.1",
        "no more fields than are named are given out",
        f"{STATIC}::test_private_rows_are_in_no_admin_and_no_serializer",
    ),
    not_held(
        "15.3.2", "redirects of other servers are not followed", "those of the provider are, by its library"
    ),
    held(
        "15.3.5, 15.3.7",
        "types are checked, and a name sent twice harms nothing",
        f"{BAD}::test_no_body_of_another_shape_harms",
        f"{BAD}::test_no_query_harms",
    ),
    # --- V16: logs and errors
    not_held(
        "16.1.1, 16.2.1 to 16.2.4",
        "an inventory of logs, in UTC, for machines",
        "lines of text on the clock of the machine; acts and signing in are rows of their own",
        f"{ACCOUNTS}::test_what_was_done_is_told_in_words_newest_first",
    ),
    held(
        "16.2.5",
        "nothing private is logged",
        f"{CANARIES}::test_private_words_are_nowhere_but_on_their_authors_pages",
        f"{CANARIES}::test_a_row_that_told_its_words_would_be_caught",
    ),
    held(
        "16.3.1",
        "signing in and refusals are noted",
        f"{SIGNING}::test_signing_in_and_refusals_are_noted_without_what_was_typed",
    ),
    held(
        "16.3.2 to 16.3.4",
        "refused requests, and private words that do not open, are noted",
        "security/test_log_lines.py::test_refused_requests_are_noted_with_what_was_asked",
        "services/private/test_keys.py::test_what_does_not_open_is_logged_by_table_and_id_alone",
    ),
    held(
        "16.4.1",
        "no request writes a line of a log of its own",
        "security/test_log_lines.py::test_no_request_begins_a_line_of_its_own",
    ),
    not_held(
        "16.4.2",
        "what was noted cannot be changed",
        "no code changes rows of acts, and nothing in the database forbids it; files are the operator's",
    ),
    held(
        "16.5.1",
        "an error tells nothing",
        f"{CANARIES}::test_private_words_are_nowhere_but_on_their_authors_pages",
        f"{BAD}::test_no_field_takes_what_harms",
    ),
    held(
        "16.5.2",
        "pages go on while Redis, mail or the provider are away",
        "serving/test_processes.py::test_a_redis_killed_while_a_job_runs_costs_neither_the_job_nor_the_worker",
        "mail/test_delivery.py::test_without_a_server_the_run_stops_at_the_first_and_all_of_them_wait",
        f"{OIDC}::test_a_provider_that_is_away_is_a_page_and_everything_else_goes_on",
    ),
    held(
        "16.5.3",
        "without a key or a policy nothing is let out",
        "services/private/test_keys.py::test_without_any_key_outside_nothing_is_sealed_and_nothing_is_stored_in_plain",
        "web/test_policy.py::test_a_policy_about_rows_needs_a_door",
    ),
    no_meaning("17", "calls between browsers", "there are none"),
)
