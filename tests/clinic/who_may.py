"""Who may open which page of a clinic's service, said once more beside what each page says of itself."""

EVERYBODY, PATIENT, PATIENT_ALWAYS, CLINICIAN = "everybody", "patient", "patient, agreed or not", "clinician"
# whoever adds a page says here who may open it; a page that stands nowhere fails
WHO_MAY = {
    EVERYBODY: """
        GET /
        GET /health
        GET /static/{name}
        GET /sign-in
        POST /sign-in
        GET /sign-in/code
        POST /sign-in/code
        POST /sign-out
        GET /invitation/{token}
        POST /invitation/{token}
    """,
    PATIENT_ALWAYS: """
        GET /consent
        POST /consent
        GET /consent/withdraw
        POST /consent/withdraw
        GET /history
        GET /history/print
        GET /history/{recording_id}
        GET /history/{recording_id}/withdraw
        POST /history/{recording_id}/withdraw
        GET /my-data
        POST /my-data/copy
        GET /my-data/delete
        POST /my-data/delete
        POST /my-data/keep
        POST /my-data/language
    """,
    PATIENT: """
        GET /today
        GET /today/sensors
        POST /messages/read
        GET /send
        POST /send
        GET /sent/{recording_id}
        GET /sent/{recording_id}/state
        GET /sent/{recording_id}/signs
        POST /sent/{recording_id}/signs
        GET /sent/{recording_id}/answers
        POST /sent/{recording_id}/answers
        GET /diary
        GET /diary/answers
        POST /diary/answers
        GET /diary/morning
        POST /diary/morning
        GET /diary/reminder.ics
        GET /diary/signs
        POST /diary/signs
        GET /diary/{entry_id}/answers
        POST /diary/{entry_id}/answers
        GET /diary/{entry_id}/urgent
    """,
    CLINICIAN: """
        GET /patients
        GET /patients/new
        POST /patients/new
        GET /patients/retired
        POST /patients/reviewed
        GET /patients/{patient_id}
        GET /patients/{patient_id}/account
        POST /patients/{patient_id}/invitation
        POST /patients/{patient_id}/messages
        POST /patients/{patient_id}/name
        POST /patients/{patient_id}/reviewed
        POST /patients/{patient_id}/standing
        GET /patients/{patient_id}/course
        GET /patients/{patient_id}/decision
        POST /patients/{patient_id}/decision
        POST /patients/{patient_id}/exports
        GET /patients/{patient_id}/exports/{export_id}
        GET /patients/{patient_id}/files
        POST /patients/{patient_id}/files
        GET /patients/{patient_id}/history
        GET /patients/{patient_id}/plan
        POST /patients/{patient_id}/plan
        GET /patients/{patient_id}/plan/text
        POST /patients/{patient_id}/plan/text
        GET /patients/{patient_id}/plan/{plan_version_id}
        GET /recordings/{recording_id}
        POST /recordings/{recording_id}/marks
        GET /recordings/{recording_id}/report
        POST /recordings/{recording_id}/reviewed
        GET /week
        GET /account
        POST /account/passphrase
        GET /account/second-factor
        POST /account/second-factor
        POST /account/second-factor/code
    """,
}
TABLE = {tuple(line.split()): who for who, lines in WHO_MAY.items() for line in lines.strip().splitlines()}
